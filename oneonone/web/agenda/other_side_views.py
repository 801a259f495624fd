"""What can the other side see? The agenda as they see it, without their margin and without acts."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from oneonone import access
from oneonone.models import Meeting
from oneonone.selectors.agenda import agenda_page as own
from oneonone.selectors.agenda import other_side
from oneonone.web.agenda.agenda_views import agenda_of
from oneonone.web.meetings import heading_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.meeting_for)
def show(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The same agenda through the same template, made for the other side."""
    seen = other_side.of(request.person, meeting, now=request.now)
    title = heading_wording.title(own.head(request.person, meeting), now=request.now)
    context = {"seen": seen, "title": title, "meeting": meeting, "section": "lines"}
    if seen.agenda is None:
        return render(request, "agenda/agenda_not_seen.html", context)
    context |= agenda_of(seen.agenda, now=request.now, look_only=True) | {
        "order_state": heading_wording.order_state(seen.agenda, private=False),
        "margin_tab": "",
    }
    return render(request, "agenda/agenda_as_they_see_it.html", context)
