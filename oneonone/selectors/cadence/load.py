"""What the intervals a manager has agreed cost them in time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Interval, Line
from oneonone.selectors.dates import line_calendar


@dataclass(frozen=True)
class Load:
    """The lines a person manages and the minutes a week that meetings at their intervals take, on average.

    Before days off, and without the time to prepare. A line that is paused counts: it goes on.
    """

    lines: int
    minutes_a_week: Fraction


def of(manager: Person, *, now: dt.datetime, without: Line | None = None) -> Load:
    """The load of all open lines that ``manager`` manages; ``without`` leaves one of them out. One query."""
    rows = Interval.objects.in_use().filter(line__manager=manager, line__ended_at__isnull=True)
    intervals: dict[object, list[Interval]] = {}
    for interval in rows:
        if without is None or interval.line_id != without.pk:
            intervals.setdefault(interval.line_id, []).append(interval)
    spent = Fraction()
    for found in intervals.values():
        current = line_calendar.in_force(found, line_calendar.local_day(now, found[-1].zone))
        if current is not None:
            spent += cost(current)
    return Load(len(intervals), spent)


def cost(interval: Interval) -> Fraction:
    """The mean minutes a week that an interval takes."""
    return cadence.minutes_a_week(line_calendar.rule_of(interval), interval.minutes)
