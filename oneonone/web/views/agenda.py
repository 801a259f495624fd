"""The agenda page of a meeting, and what is done to its order as a whole."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Meeting
from oneonone.selectors import agenda as selector
from oneonone.selectors import calendar
from oneonone.services import agenda, preparation
from oneonone.web import going, rail, reasons, refused, waitingwords
from oneonone.web.forms.margin import NoteForm
from oneonone.web.forms.meetings import InvitationForm, ReadForm
from oneonone.web.forms.topics import LEVELS, TopicLineForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.meeting_for)
def page(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The agenda, whatever the state of the meeting."""
    shown = selector.of(request.person, meeting, now=request.now)
    running = request.now if meeting.state == Meeting.State.UNDER_WAY else None
    clock = reasons.clock_of(meeting)
    context = {
        "page": shown,
        "head": shown.head,
        "order": shown.order,
        "rows": rail.rows(shown.head, shown.order, now=running),
        "kept": rail.kept_rows(shown.head, shown.order),
        "short": reasons.sentence(shown.order.short, clock) if shown.order.short else "",
        "ways_out": [reasons.sentence(way, clock) for way in shown.order.ways_out],
        "relaxed": [reasons.sentence(rule, clock) for rule in shown.order.relaxed],
        "waiting": waitingwords.rows(shown),
        "levels": LEVELS,
        "topic_line": TopicLineForm(initial={"client_key": uuid4()}, prefix=None),
        "invitation": InvitationForm(),
        "note_form": NoteForm,
        "here": reverse("meeting", args=[meeting.pk]),
        "now": request.now,
        "section": "lines",
    }
    return render(request, "pages/agenda.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def issue(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Issue the order at once."""
    with refused.told(request):
        agenda.issue(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("The order is issued. Both of you now prepare against it."))
    return redirect(going.agenda_path(meeting))


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def undo(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Take back the last move by hand, whoever made it."""
    with refused.told(request):
        agenda.undo(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("The last move is taken back."))
    return redirect(going.agenda_path(meeting))


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def read(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Keep, for oneself, that the order on the page has been read."""
    form = ReadForm(request.POST)
    if form.is_valid():
        with refused.told(request):
            preparation.mark_read(
                meeting=meeting,
                number=form.cleaned_data["number"],
                actor=request.person,
                now=request.now,
                today=calendar.local_day(request.now, request.person.zone),
            )
            messages.success(request, _("Marked as read. Only you see that."))
    else:
        messages.error(request, _("The number of the order was missing. Open the page again."))
    return redirect(going.agenda_path(meeting))
