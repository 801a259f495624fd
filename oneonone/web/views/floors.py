"""How the two of a line share the time: the least share that each of them wants for their own topics."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line
from oneonone.services import floors
from oneonone.web import floorwords, refused, sent
from oneonone.web.forms.floors import FloorForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def own(request: PersonRequest, line: Line) -> HttpResponse:
    """See both shares, and set or take back one's own."""
    side = line.side_for(request.person)
    form = FloorForm(sent.form_data(request), initial={"percent": floorwords.percent_of(line, side)})
    if request.method == "POST" and form.is_valid():
        with refused.at(form):
            floors.set_floor(
                line=line, percent=form.cleaned_data["percent"], actor=request.person, now=request.now
            )
            messages.success(request, floorwords.state(line, side))
            return redirect("line", line.pk)
    context = {
        "line": line,
        "other": line.name_on(side.other),
        "state": floorwords.state(line, side),
        "form": form,
        "back": reverse("line", args=[line.pk]),
        "title": _("How you share the time"),
        "section": "lines",
    }
    return render(request, "pages/line_floor.html", context, status=refused.status(form))
