"""Times for the one-on-ones due in the coming weeks. The manager accepts each one separately."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line, Meeting
from oneonone.selectors.cadence import finding_times
from oneonone.selectors.cadence.finding_times import Proposal
from oneonone.selectors.dates import coming_meetings, line_calendar, move_options
from oneonone.selectors.private import busy_times
from oneonone.services.meetings import meetings
from oneonone.web import form_refusals
from oneonone.web.cadence.busy_times_forms import CalendarForm
from oneonone.web.cadence.finding_times_forms import TakeForm
from oneonone.web.meetings import time_proposal_wording
from oneonone.web.policy import LINE_SIDE, SIGNED_IN, PersonRequest, view


@dataclass(frozen=True)
class Shown:
    """A proposed time, the reason for it, and the client key of its form."""

    proposal: Proposal
    why: str
    key: UUID


@view(policy=SIGNED_IN)
def show(request: PersonRequest) -> HttpResponse:
    """The proposed times, earliest first, and the lines for which none was found."""
    return page(request, CalendarForm())


def page(request: PersonRequest, form: CalendarForm) -> HttpResponse:
    """The page with the calendar form, which may hold errors."""
    found = finding_times.find(request.person, now=request.now)
    context = {
        "found": found,
        "proposals": [Shown(one, time_proposal_wording.why(one), uuid4()) for one in found.proposals],
        "form": form,
        "kept": busy_times.kept(request.person, now=request.now),
        "section": "cadence",
    }
    return render(request, "cadence/findtimes.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.line_for_manager, methods=("POST",))
def take(request: PersonRequest, line: Line) -> HttpResponse:
    """Accept a proposed time: the planned meeting moves there, or an extra meeting is made."""
    form = TakeForm(request.POST)
    if not form.is_valid():
        raise Http404
    day, time = form.cleaned_data["day"], form.cleaned_data["time"]
    with form_refusals.told(request):
        planned = coming_meetings.earliest(line)
        if planned is not None and planned.state in (Meeting.State.PLANNED, Meeting.State.ISSUED):
            starts_at = move_options.start_of(day, time, planned.zone)
            meetings.move(meeting=planned, starts_at=starts_at, actor=request.person, now=request.now)
        else:
            interval = line_calendar.in_force(line_calendar.intervals_of(line), day)
            meetings.extra(
                line=line,
                day=day,
                time=time,
                minutes=interval.minutes if interval else 45,
                actor=request.person,
                now=request.now,
                client_key=form.cleaned_data["client_key"],
            )
        said = {"day": date_format(day, "l j F"), "time": date_format(time, "H:i")}
        messages.success(request, _("Planned for %(day)s at %(time)s. The other person is told.") % said)
    return redirect("find-times")
