"""Days away, once for all of one's lines: what falls on them, and where each of it could go."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from accounts.models import DayAway
from oneonone import access
from oneonone.selectors import absence, moving
from oneonone.services import meetings
from oneonone.web import refused
from oneonone.web.forms.absence import OfferForm
from oneonone.web.policy import SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN, door=access.day_away_for)
def show(request: PersonRequest, away: DayAway) -> HttpResponse:
    """The meetings on these days. Each can go to one of the days near it, one by one."""
    falling = absence.with_offers(request.person, away, now=request.now)
    return render(request, "pages/absence.html", {"away": away, "falling": falling, "section": "settings"})


@view(policy=SIGNED_IN, door=access.day_away_for, methods=("POST",))
def move(request: PersonRequest, away: DayAway) -> HttpResponse:
    """Move one of them."""
    form = OfferForm(request.POST)
    if not form.is_valid():
        raise Http404
    meeting = access.meeting_for_edit(request.person, form.cleaned_data["meeting"])
    day, time = form.cleaned_data["day"], form.cleaned_data["time"]
    with refused.told(request):
        starts_at = moving.start_of(day, time, meeting.zone)
        meetings.move(meeting=meeting, starts_at=starts_at, actor=request.person, now=request.now)
        messages.success(request, _("Moved to %(day)s.") % {"day": date_format(day, "l j F")})
    return redirect("absence", away.pk)
