"""Pages of one meeting: invite, start, go through, close, move, call off, say whether it was held."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Meeting, Placement
from oneonone.selectors.agenda import agenda_page as agenda_selector
from oneonone.selectors.agenda import planner_input
from oneonone.selectors.dates import line_calendar, move_options
from oneonone.selectors.meetings import meeting_under_way as selector
from oneonone.selectors.private import busy_times
from oneonone.services.meetings import held_claims, meetings, starting, time_proposals
from oneonone.services.refusals import MovedOn, NotNow
from oneonone.web import form_refusals, posted_data, redirects
from oneonone.web.agenda import rail
from oneonone.web.agenda.wording import topic_wording
from oneonone.web.commitments.commitment_forms import TakeOnForm
from oneonone.web.meetings import heading_wording
from oneonone.web.meetings.meeting_forms import GoOnForm, HeldForm, InvitationForm, MoveMeetingForm
from oneonone.web.notices import proposal_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view
from oneonone.web.record.record_forms import LineForm

UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)


@view(policy=LINE_SIDE, door=access.meeting_for_manager, methods=("GET", "POST"))
def invite(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Ask both sides for topics before the automatic invitation."""
    form = InvitationForm(posted_data.form_data(request))
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            meetings.invite(
                meeting=meeting, actor=request.person, words=form.cleaned_data["words"], now=request.now
            )
            messages.success(request, _("Both of you are asked for topics."))
            return redirect(redirects.agenda_path(meeting))
    context = {**_about(request, meeting), "form": form}
    return render(request, "meetings/meeting_invite.html", context, status=form_refusals.status(form))


def _about(request: PersonRequest, meeting: Meeting) -> dict[str, object]:
    head = agenda_selector.head(request.person, meeting)
    return {
        "meeting": meeting,
        "head": head,
        "title": heading_wording.title(head, now=request.now),
        "eyebrow": heading_wording.eyebrow(head),
        "back": redirects.agenda_path(meeting),
        "section": "lines",
    }


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def start(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Start the meeting, after a question if it is early. Starting issues an order not issued yet."""
    asks = meeting.state in UNSTARTED and agenda_selector.is_early(meeting, now=request.now)
    if request.method == "POST" and not (asks and "early" not in request.POST):
        with form_refusals.told(request):
            meetings.start(meeting=meeting, actor=request.person, now=request.now)
        return redirect("meeting-live", meeting.pk)
    if meeting.state not in UNSTARTED:
        return redirect("meeting-live", meeting.pk)
    context = {
        **_about(request, meeting),
        "asks": asks,
        "planned": heading_wording.moment(meeting.starts_at, meeting),
        "offered_from": heading_wording.moment(meeting.starts_at - agenda_selector.START_OFFERED, meeting),
    }
    return render(request, "meetings/meeting_start.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def not_started(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Undo a start, while no line is written and no second topic has begun."""
    with form_refusals.told(request):
        starting.take_back(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("The start is undone. Everything is as it was before."))
    # That view redirects to the agenda, because the meeting is not under way.
    return redirect("meeting-live", meeting.pk)


@view(policy=LINE_SIDE, door=access.meeting_for)
def live(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """The page of a meeting under way. Before it, redirect to the agenda; after it, to the record."""
    if meeting.state != Meeting.State.UNDER_WAY:
        return redirect("record" if meeting.state == Meeting.State.CLOSED else "meeting", meeting.pk)
    shown = selector.of(request.person, meeting, now=request.now)
    topic = shown.topic
    note = topic.note if topic else shown.margin.meeting
    first = {"client_key": uuid4(), "placement": meeting.current_id}
    context = {
        "page": shown,
        "head": shown.head,
        "meeting": meeting,
        "title": heading_wording.title(shown.head, now=request.now),
        "eyebrow": heading_wording.eyebrow(shown.head),
        "margin_tab": heading_wording.margin_tab(shown.head),
        "rows": rail.rows(shown.head, shown.order, now=request.now),
        "opening_said": heading_wording.opening(meeting, shown.order, len(shown.opening)),
        "about": topic_wording.about(topic) if topic else "",
        "whose": topic_wording.whose(topic, shown.head.other) if topic else "",
        "waiting": proposal_wording.rows(shown.head, shown.waiting),
        "kept_topics": [
            (card, topic_wording.kept(card, shown.head.other)) for card in (*shown.not_reached, *shown.kept)
        ],
        "note": note,
        "note_form": rail.note_form(note, "here"),
        "line_form": LineForm(initial=first),
        "take_on_form": TakeOnForm(
            initial={**first, "client_key": uuid4()}, other=shown.head.other, auto_id="take-%s"
        ),
        "here": reverse("meeting-live", args=[meeting.pk]),
        "section": "lines",
    }
    return render(request, "meetings/meeting.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def go_on(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Leave the current topic for another one, or for the reading back."""
    form = GoOnForm(request.POST)
    if form.is_valid():
        with form_refusals.told(request):
            try:
                meetings.go_on(
                    meeting=meeting,
                    to=_to(meeting, form),
                    continues=form.cleaned_data["continues"],
                    actor=request.person,
                    now=request.now,
                    version=form.cleaned_data["version"],
                )
            except MovedOn as news:
                messages.info(request, str(news))
    else:
        messages.error(request, _("Choose the next topic on this page."))
    return redirect("meeting-live", meeting.pk)


def _to(meeting: Meeting, form: GoOnForm) -> Placement | None:
    asked = form.cleaned_data["to"]
    if asked is None:
        return None
    return meeting.placements.filter(pk=asked).first() or Placement(
        meeting=meeting, outcome=Placement.Outcome.WITHDRAWN
    )


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("POST",))
def close(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Close the meeting: the record is stored, and topics that were not reached are kept for the next one."""
    with form_refusals.told(request):
        meetings.close(meeting=meeting, actor=request.person, now=request.now)
        messages.success(request, _("Closed. This is the record. Both of you can still add to it."))
    return redirect("record", meeting.pk)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def move(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Move a meeting that has not begun, or propose another time for it."""
    local = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
    form = MoveMeetingForm(
        posted_data.form_data(request), initial={"day": local.date(), "time": local.time()}
    )
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        with form_refusals.at(form):
            if "propose" in request.POST:
                time_proposals.propose(
                    meeting=meeting,
                    day=said["day"],
                    time=said["time"],
                    actor=request.person,
                    now=request.now,
                )
                messages.success(
                    request, _("Proposed. The time stays as it is until the other side answers.")
                )
                return redirect(redirects.agenda_path(meeting))
            meetings.move(
                meeting=meeting,
                starts_at=move_options.start_of(said["day"], said["time"], meeting.zone),
                actor=request.person,
                now=request.now,
            )
            at = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
            moved = _("Moved to %(when)s.") % {"when": date_format(at, _("l j F, H:i"))}
            messages.success(request, f"{moved} {heading_wording.date_left(meeting)}".strip())
            return redirect(redirects.agenda_path(meeting))
    may_move = meeting.state in UNSTARTED
    context = {
        **_about(request, meeting),
        "form": form,
        "may_move": may_move,
        **(_offers(request, meeting) if may_move else {}),
    }
    return render(request, "meetings/meeting_move.html", context, status=form_refusals.status(form))


def _offers(request: PersonRequest, meeting: Meeting) -> dict[str, object]:
    return {
        "offers": move_options.offers(request.person, meeting, now=request.now),
        "calendar_kept": busy_times.is_kept(request.person, now=request.now),
    }


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def call_off(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Call a meeting off. The page first shows times it could move to, and how long the gap would be."""
    if request.method == "POST":
        with form_refusals.told(request):
            following = meetings.call_off(meeting=meeting, actor=request.person, now=request.now)
            messages.success(request, _("Called off. Its topics and commitments are kept."))
            if following is not None:
                return redirect(redirects.agenda_path(following))
        return redirect(redirects.agenda_path(meeting))
    may_call_off = meeting.state in UNSTARTED
    context = {
        **_about(request, meeting),
        **(_offers(request, meeting) if may_call_off else {}),
        "may_call_off": may_call_off,
        "consequence": move_options.if_called_off(meeting, now=request.now),
    }
    return render(request, "meetings/meeting_call_off.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def held(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Say whether the two met: for a past meeting that nobody closed, or after the other side has said so."""
    today = line_calendar.local_day(request.now, meeting.zone)
    day = meeting.held_on or min(line_calendar.local_day(meeting.starts_at, meeting.zone), today)
    heard = [(str(row.pk), row.topic.title) for row in planner_input.undecided(meeting)]
    form = HeldForm(posted_data.form_data(request), initial={"held": "yes", "day": day}, topics=heard)
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            return _answered(request, meeting, form, today)
    context = {**_about(request, meeting), "form": form}
    return render(request, "meetings/meeting_held.html", context, status=form_refusals.status(form))


def _answered(request: PersonRequest, meeting: Meeting, form: HeldForm, today: dt.date) -> HttpResponse:
    yes = form.cleaned_data["held"] == "yes"
    side = meeting.line.side_for(request.person)
    if meeting.state == Meeting.State.CLOSED:
        day = form.day_said if yes else None
        held_claims.say(meeting=meeting, side=side, held=yes, day=day, actor=request.person, now=request.now)
        messages.success(request, _("Saved. Both answers are shown."))
        return redirect("record", meeting.pk)
    if yes:
        held_claims.we_met(
            line=meeting.line,
            day=form.day_said,
            meeting=meeting,
            discussed=form.heard,
            actor=request.person,
            now=request.now,
            today=today,
        )
        messages.success(request, _("Saved as held. You can still write the record."))
        return redirect("record", meeting.pk)
    if meeting.state not in UNSTARTED or meeting.starts_at > request.now:
        raise NotNow(field="held", accepted=_("Call it off, or close it, instead."))
    held_claims.give_up(meeting=meeting, now=request.now)
    messages.success(request, _("Saved as not held. Its topics and commitments are kept."))
    return redirect(redirects.agenda_path(meeting))
