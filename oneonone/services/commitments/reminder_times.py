"""When a person is reminded of a commitment. Days are in the person's zone, instants in UTC."""

from __future__ import annotations

import datetime as dt

from accounts.models import Person
from oneonone import cadence
from oneonone.selectors.dates import line_calendar

MIDNIGHT = dt.time(0)


def before_date(owner: Person | None, date: dt.date, *, now: dt.datetime) -> dt.datetime | None:
    """The start of the owner's last working day before ``date``.

    None if the owner has no account, or if that day has begun already: a commitment made today for tomorrow
    needs no reminder.
    """
    if owner is None:
        return None
    try:
        day = line_calendar.working_days_of(owner, around=date).add(date, -1)
    except cadence.NoWorkingDay:
        return None
    return on_day(owner, day) if day > line_calendar.local_day(now, owner.zone) else None


def on_day(owner: Person, day: dt.date) -> dt.datetime:
    """The instant at which ``day`` begins in the owner's zone. Quiet hours are applied when mail is sent."""
    return cadence.start_instant(day, MIDNIGHT, owner.zone)
