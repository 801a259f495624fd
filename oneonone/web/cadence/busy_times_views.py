"""Busy times from a person's own calendar file: read and stored, or removed."""

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
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.private import busy_times as kept
from oneonone.services.private import busy_times
from oneonone.web import form_refusals
from oneonone.web.cadence import finding_times_views
from oneonone.web.cadence.busy_times_forms import CalendarForm
from oneonone.web.policy import SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN, methods=("POST",))
def read(request: PersonRequest) -> HttpResponse:
    """Store the start and end times of a calendar file, replacing earlier ones. The file is not kept."""
    form = CalendarForm(request.POST, request.FILES)
    if form.is_valid():
        person, now = request.person, request.now
        first, until = kept.window(now)
        with form_refusals.at(form):
            if not ratelimit.consume(request, action="read_calendar"):
                raise TooManyFiles
            data = form.cleaned_data["calendar"].read()
            blocks = calendar_file.read(data, zone=person.zone, first=first, until=until)
            today = line_calendar.local_day(now, person.zone)
            found = busy_times.replace(blocks=blocks, actor=person, now=now, today=today)
            messages.success(request, _said(len(blocks), kept.last_day(found)))
            return redirect("find-times")
    return finding_times_views.page(request, form)


def _said(blocks: int, until: dt.date) -> str:
    text = ngettext(
        "%(n)d busy time is saved, up to %(until)s. Only its start and end are kept.",
        "%(n)d busy times are saved, up to %(until)s. Only their starts and ends are kept.",
        blocks,
    )
    return text % {"n": blocks, "until": date_format(until, _("j F Y"))}


@view(policy=SIGNED_IN, methods=("POST",))
def remove(request: PersonRequest) -> HttpResponse:
    """Delete the person's busy times."""
    busy_times.remove(actor=request.person, now=request.now)
    messages.success(request, _("Your busy times are removed."))
    return redirect("find-times")
