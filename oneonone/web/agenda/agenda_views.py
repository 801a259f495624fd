"""The agenda page of a meeting, and what is done to its order as a whole."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Meeting, Side
from oneonone.selectors.agenda import agenda_page as selector
from oneonone.selectors.agenda import third_time as third_times
from oneonone.selectors.dates import line_calendar
from oneonone.services.agenda import issuing, order_versions
from oneonone.services.private import preparation
from oneonone.web import form_refusals, partials, redirects
from oneonone.web.agenda import change_confirmation, rail
from oneonone.web.agenda import strip as agendastrip
from oneonone.web.agenda.topic_forms import TopicLineForm
from oneonone.web.agenda.wording import reason_wording
from oneonone.web.meetings import heading_wording
from oneonone.web.meetings.meeting_forms import ReadForm
from oneonone.web.notices import proposal_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.meeting_for)
def page(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The agenda, whatever the state of the meeting. With ``?notes`` the reader's notes are printed too."""
    shown = selector.of(request.person, meeting, now=request.now)
    third_time = third_times.asked(request.person, meeting.line, now=request.now) if shown.may_change else ()
    context = agenda_of(shown, now=request.now, third_time=third_time) | {
        "order_state": heading_wording.order_state(shown),
        "margin_tab": heading_wording.margin_tab(shown.head),
        "topic_line": TopicLineForm(initial={"client_key": uuid4()}, auto_id="add-%s"),
        "prints_notes": "notes" in request.GET,
    }
    return render(request, "agenda/agenda.html", context)


def agenda_of(
    shown: selector.Agenda,
    *,
    now: dt.datetime,
    third_time: Sequence[third_times.Asked] = (),
    look_only: bool = False,
) -> dict[str, Any]:
    """What the template of an agenda says of it, whoever looks. ``look_only`` leaves out what can be done."""
    head, order = shown.head, shown.order
    meeting = head.meeting
    running = now if meeting.state == Meeting.State.UNDER_WAY else None
    clock = reason_wording.clock_of(meeting)
    asked = {one.topic.placement_id: one for one in shown.waiting if one.topic is not None}
    here, waiting = reverse("meeting", args=[meeting.pk]), proposal_wording.rows(head, shown.waiting)
    strip = agendastrip.rows(shown, waiting, third_time, here=here, look_only=look_only)
    return {
        "page": shown,
        "head": head,
        "meeting": meeting,
        "title": heading_wording.title(head, now=now),
        "eyebrow": heading_wording.eyebrow(head),
        "invited": heading_wording.invitation(shown) if meeting.state == Meeting.State.PLANNED else "",
        "opening_said": heading_wording.opening(meeting, order, len(shown.opening)),
        "manager_brings": heading_wording.brings(shown, Side.MANAGER),
        "report_brings": heading_wording.brings(shown, Side.REPORT),
        "order": order,
        "rows": rail.rows(head, order, now=running, note=shown.margin.meeting),
        "shortest": rail.shortest(order),
        "kept": rail.kept_rows(head, order),
        "late": [
            rail.without_place(head, topic, proposal_wording.beside(head, asked.get(topic.placement_id)))
            for topic in order.late
        ],
        "asked_of_you": {key for key, one in asked.items() if not one.by_you},
        "asked_by_you": {key for key, one in asked.items() if one.by_you},
        "parked": [rail.without_place(head, topic) for topic in shown.parked],
        "gone": order.left,
        "short": reason_wording.sentence(order.short, clock) if order.short else "",
        "ways_out": [reason_wording.sentence(way, clock) for way in order.ways_out],
        "relaxed": reason_wording.given_up(order.given_up),
        "strip": strip[: agendastrip.SHOWN],
        "strip_more": strip[agendastrip.SHOWN :],
        "here": here,
        "look_only": look_only,
        "now": now,
        "section": "lines",
    }


@view(policy=LINE_SIDE, door=access.meeting_for)
def opening(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """How it went since last time, with what can be done: a page, or the part that opens in the agenda."""
    shown = selector.of(request.person, meeting, now=request.now)
    context = agenda_of(shown, now=request.now) | {
        "told": shown.opening,
        "back": redirects.agenda_path(meeting),
    }
    return partials.answer(request, "agenda/opening.html", "agenda/parts/opening.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def issue(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Issue the order at once."""
    with form_refusals.told(request):
        issuing.issue(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("The order is issued. Both of you now prepare against it."))
    return redirect(redirects.order_path(meeting))


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def undo(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Take back the last move by hand, whoever made it."""
    with form_refusals.told(request):
        order_versions.undo(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("The last move is taken back."))
    return redirect(redirects.order_path(meeting))


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def put_in_order_anew(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Give up the order that stands for the one that the rule makes now, after showing what would move."""

    def act() -> None:
        issuing.put_in_order_anew(meeting=meeting, actor=request.person, now=request.now)

    question = change_confirmation.Question(
        title=_("Put the topics in order anew?"),
        key="",
        back=redirects.order_path(meeting),
        said=_("The topics are in order anew. Either of you can undo it."),
    )
    return change_confirmation.answer_or_say(
        request, meeting, act, question, ask_about=change_confirmation.changes
    )


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def read(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Keep, for oneself, that the order on the page has been read."""
    form = ReadForm(request.POST)
    if form.is_valid():
        with form_refusals.told(request):
            preparation.mark_read(
                meeting=meeting,
                number=form.cleaned_data["number"],
                actor=request.person,
                now=request.now,
                today=line_calendar.local_day(request.now, request.person.zone),
            )
            messages.success(request, _("Marked as read. Only you see that."))
    else:
        messages.error(request, _("The number of the order was missing. Open the page again."))
    return redirect(redirects.order_path(meeting))
