"""Quiet hours: the part of a person's local day in which no mail is sent to them."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from accounts.models import Person
from oneonone import cadence


def is_quiet(person: Person, instant: dt.datetime) -> bool:
    """Whether an instant is in the person's quiet hours. Equal ends mean that there are none."""
    clock = instant.astimezone(ZoneInfo(person.zone)).time()
    return cadence.is_quiet(clock, (person.quiet_from, person.quiet_to))


def after_quiet(person: Person, instant: dt.datetime) -> dt.datetime:
    """The instant, or the end of the quiet hours if it is in them."""
    if not is_quiet(person, instant):
        return instant
    local = instant.astimezone(ZoneInfo(person.zone))
    day = local.date()
    if local.time() >= person.quiet_to:
        day += dt.timedelta(days=1)
    # At a clock change the computed time can be before the instant; never return an earlier one.
    return max(instant, cadence.start_instant(day, person.quiet_to, person.zone))
