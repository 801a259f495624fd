"""Meetings that were held without the server, and extra meetings."""

from __future__ import annotations

import datetime as dt
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line, Meeting
from oneonone.selectors.agenda import planner_input
from oneonone.selectors.cadence import standing as standings
from oneonone.selectors.dates import line_calendar
from oneonone.services.meetings import held_claims, meetings, time_proposals
from oneonone.web import form_refusals
from oneonone.web.lines.line_forms import ExtraForm, MetForm, WhichMeetingForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def we_met(request: PersonRequest, line: Line) -> HttpResponse:
    """Say that the two met on a day. A second step asks whether it was a planned meeting near that day."""
    today = standings.of_line(line, now=request.now).today
    asked = MetForm(request.POST or None, initial={"day": _suggested(request, today)})
    if request.method != "POST" or not asked.is_valid():
        return _show(request, line, asked)
    day = asked.cleaned_data["day"]
    near, likely = held_claims.nearest_for(line=line, day=day)
    follow_up = _follow_up(request, near, day=day, likely=likely)
    if near is not None and "which" not in request.POST:
        return _show(request, line, follow_up)
    form = asked if near is None else follow_up
    if near is None or follow_up.is_valid():
        with form_refusals.at(form):
            meeting = held_claims.we_met(
                line=line,
                day=day,
                meeting=near if near is not None and follow_up.cleaned_data["which"] == "yes" else None,
                discussed=[UUID(pk) for pk in follow_up.cleaned_data.get("discussed", ())]
                if near is not None
                else [],
                actor=request.person,
                now=request.now,
                today=today,
            )
            messages.success(request, _("Saved as held on %(day)s.") % {"day": date_format(day, "l j F")})
            return redirect("record", meeting.pk)
    return _show(request, line, form)


def _suggested(request: PersonRequest, today: dt.date) -> dt.date:
    """The day that the link names, at most today; today if it names none."""
    try:
        return min(dt.date.fromisoformat(request.GET.get("day", "")), today)
    except ValueError:
        return today


def _follow_up(
    request: PersonRequest, near: Meeting | None, *, day: dt.date, likely: bool
) -> WhichMeetingForm:
    if near is None:
        return WhichMeetingForm(None, meeting=None, question="", topics=[])
    planned = line_calendar.local_day(near.starts_at, near.zone)
    topics = [(str(row.pk), row.topic.title) for row in planner_input.undecided(near)]
    question = _("Was this the one-on-one planned for %(day)s?") % {"day": date_format(planned, "l j F")}
    initial = {"day": day, "which": "yes" if likely else "no"}
    answered = request.POST if "which" in request.POST else None
    return WhichMeetingForm(answered, meeting=near, question=question, topics=topics, initial=initial)


def _show(request: PersonRequest, line: Line, form: MetForm) -> HttpResponse:
    side = line.side_for(request.person)
    context = {"line": line, "other": line.name_on(side.other), "form": form, "section": "lines"}
    return render(request, "meetings/we_met.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def extra(request: PersonRequest, line: Line) -> HttpResponse:
    """Plan or propose an extra meeting, in addition to the dates of the interval."""
    form = ExtraForm(request.POST or None, initial={"client_key": uuid4()})
    zone = line_calendar.intervals_of(line)[-1].zone
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            if "propose" in request.POST:
                time_proposals.propose_extra(
                    line=line, **form.cleaned_data, actor=request.person, now=request.now
                )
                messages.success(request, _("Proposed. It is planned once the other person accepts."))
                return redirect("line", line.pk)
            meeting = meetings.extra(line=line, **form.cleaned_data, actor=request.person, now=request.now)
            return redirect("meeting", meeting.pk)
    side = line.side_for(request.person)
    context = {
        "line": line,
        "other": line.name_on(side.other),
        "other_joined": line.person_on(side.other) is not None,
        "zone": zone,
        "form": form,
        "section": "lines",
    }
    return render(request, "meetings/meeting_extra.html", context, status=form_refusals.status(form))
