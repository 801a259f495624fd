"""Days away: the meetings on them, and proposals of other times for each."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts.models import DayAway
from oneonone import access
from oneonone.selectors.cadence import absence
from oneonone.selectors.dates import move_options
from oneonone.services.meetings import meetings, time_proposals
from oneonone.web import form_refusals
from oneonone.web.cadence.absence_forms import OfferForm
from oneonone.web.notices import proposal_wording
from oneonone.web.policy import SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN, door=access.day_away_for)
def show(request: PersonRequest, away: DayAway) -> HttpResponse:
    """Show the meetings on these days, each with buttons for the nearest free times."""
    falling = absence.with_offers(request.person, away, now=request.now)
    context = {
        "away": away,
        "falling": [(one, proposal_wording.times(one.proposed)) for one in falling],
        "here": request.path,
        "section": "settings",
    }
    return render(request, "cadence/absence.html", context)


@view(policy=SIGNED_IN, door=access.day_away_for, methods=("POST",))
def propose(request: PersonRequest, away: DayAway) -> HttpResponse:
    """Propose another time for one of them; with somebody who has not joined it moves at once."""
    form = OfferForm(request.POST)
    if not form.is_valid():
        raise Http404
    meeting = access.meeting_for_edit(request.person, form.cleaned_data["meeting"])
    day, time = form.cleaned_data["day"], form.cleaned_data["time"]
    other = meeting.line.person_on(meeting.line.side_for(request.person).other)
    said = {"day": date_format(day, "l j F"), "time": date_format(time, "H:i")}
    with form_refusals.told(request):
        if other is None:
            starts_at = move_options.start_of(day, time, meeting.zone)
            meetings.move(meeting=meeting, starts_at=starts_at, actor=request.person, now=request.now)
            messages.success(request, _("Moved to %(day)s at %(time)s.") % said)
        else:
            time_proposals.propose(meeting=meeting, day=day, time=time, actor=request.person, now=request.now)
            messages.success(
                request, _("Proposed: %(day)s at %(time)s. The other person can accept or decline.") % said
            )
    return redirect("absence", away.pk)
