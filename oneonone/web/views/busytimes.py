"""Busy times from one's own calendar: read from an uploaded file, and removed again."""

from __future__ import annotations

import datetime as dt

from allauth.core import ratelimit
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.calendars import busytimes as calendar_file
from oneonone.calendars.refusals import TooManyFiles
from oneonone.selectors import busytimes as kept
from oneonone.selectors import calendar
from oneonone.services import busytimes
from oneonone.web import refused
from oneonone.web.forms.busytimes import CalendarForm
from oneonone.web.policy import SIGNED_IN, PersonRequest, view
from oneonone.web.views import findtimes


@view(policy=SIGNED_IN, methods=("POST",))
def read(request: PersonRequest) -> HttpResponse:
    """Store the start and end times of a calendar file in place of the stored ones.

    The file itself is not stored.
    """
    form = CalendarForm(request.POST, request.FILES)
    if form.is_valid():
        person, now = request.person, request.now
        first, until = kept.window(now)
        with refused.at(form):
            if not ratelimit.consume(request, action="read_calendar"):
                raise TooManyFiles
            data = form.cleaned_data["calendar"].read()
            blocks = calendar_file.read(data, zone=person.zone, first=first, until=until)
            today = calendar.local_day(now, person.zone)
            found = busytimes.replace(blocks=blocks, actor=person, now=now, today=today)
            messages.success(request, _said(len(blocks), kept.last_day(found)))
            return redirect("find-times")
    return findtimes.page(request, form)


def _said(blocks: int, until: dt.date) -> str:
    text = ngettext(
        "%(n)d busy time saved, up to %(until)s, without any titles.",
        "%(n)d busy times saved, up to %(until)s, without any titles.",
        blocks,
    )
    return text % {"n": blocks, "until": date_format(until, _("j F Y"))}


@view(policy=SIGNED_IN, methods=("POST",))
def remove(request: PersonRequest) -> HttpResponse:
    """Delete the stored busy times."""
    busytimes.remove(actor=request.person, now=request.now)
    messages.success(request, _("Your busy times are removed."))
    return redirect("find-times")
