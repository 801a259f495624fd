"""What can the other side see? The agenda as they see it, without their margin and without acts."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from oneonone import access
from oneonone.models import Meeting
from oneonone.selectors import theirs
from oneonone.selectors.agenda import page as own
from oneonone.web import headwords
from oneonone.web.policy import LINE_SIDE, PersonRequest, view
from oneonone.web.views.agenda import agenda_of


@view(policy=LINE_SIDE, door=access.meeting_for)
def show(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The same agenda through the same template, made for the other side."""
    seen = theirs.of(request.person, meeting, now=request.now)
    title = headwords.title(own.head(request.person, meeting), now=request.now)
    context = {"seen": seen, "title": title, "meeting": meeting, "section": "lines"}
    if seen.agenda is None:
        return render(request, "pages/agenda_not_seen.html", context)
    context |= agenda_of(seen.agenda, now=request.now, look_only=True) | {
        "order_state": headwords.order_state(seen.agenda, private=False),
        "margin_tab": "",
    }
    return render(request, "pages/agenda_as_they_see_it.html", context)
