"""Whether minutes go by how topics have run in a line: each side's own word on it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line
from oneonone.services.agenda import duration_history
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("POST",))
def use(request: PersonRequest, line: Line) -> HttpResponse:
    """Let minutes go by the line's history, or not."""
    said = request.POST.get("uses")
    if said not in ("0", "1"):
        messages.error(request, _("Say on or off: nothing was changed."))
    else:
        duration_history.use(line=line, uses=said == "1", actor=request.person, now=request.now)
        messages.success(
            request,
            _("Noted. Orders that are issued from now on go by it.")
            if said == "1"
            else _("Noted. Orders that are issued from now on take the minutes as they are asked."),
        )
    return redirect(f"{reverse('line', args=[line.pk])}#minutes")
