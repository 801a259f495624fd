"""When a person is not free: other one-on-ones and their own calendar. Only for that person."""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections.abc import Collection, Iterable
from typing import Literal
from uuid import UUID

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Meeting
from oneonone.selectors.dates import time_proposals
from oneonone.selectors.private import busy_times

Span = tuple[dt.datetime, dt.datetime]
By = Literal["", "busy", "meeting"]

DAY = dt.timedelta(days=1)
HOURS = (dt.time(8), dt.time(18))


class Taken:
    """Busy times of the person's own calendar, and times of other one-on-ones."""

    def __init__(self, busy: Iterable[Span], met: Iterable[Span]) -> None:
        self._busy, self._met = apart(busy), apart(met)
        self._busy_until = [ends for _begins, ends in self._busy]
        self._met_until = [ends for _begins, ends in self._met]

    def by(self, begins: dt.datetime, ends: dt.datetime) -> By:
        """Why the time between two instants is not free; empty if it is free."""
        if _overlaps(self._busy, self._busy_until, begins, ends):
            return "busy"
        return "meeting" if _overlaps(self._met, self._met_until, begins, ends) else ""


def of(person: Person, *, now: dt.datetime, without: Collection[UUID] = ()) -> Taken:
    """The future times of a person, proposed ones included. Four queries.

    The meetings ``without`` are not counted.
    """
    rows = (
        Meeting.objects.visible_to(person)
        .filter(state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED, Meeting.State.UNDER_WAY))
        .filter(starts_at__gt=now - DAY)
        .values_list("pk", "starts_at", "minutes")
    )
    met = [
        (starts_at, starts_at + dt.timedelta(minutes=minutes))
        for pk, starts_at, minutes in rows
        if pk not in without
    ]
    proposed = [
        (time.starts_at, time.starts_at + dt.timedelta(minutes=time.minutes))
        for time in time_proposals.waiting(person, now=now)
    ]
    return Taken(busy_times.of(person, now=now), [*met, *proposed])


def apart(spans: Iterable[Span]) -> list[Span]:
    """Spans in order, overlapping ones merged, so that their ends are in order too."""
    found: list[Span] = []
    for begins, ends in sorted(spans):
        if found and begins < found[-1][1]:
            found[-1] = (found[-1][0], max(ends, found[-1][1]))
        else:
            found.append((begins, ends))
    return found


def _overlaps(spans: list[Span], until: list[dt.datetime], begins: dt.datetime, ends: dt.datetime) -> bool:
    place = bisect_right(until, begins)
    return place < len(spans) and spans[place][0] < ends


def in_hours(start: dt.datetime, length: dt.timedelta, zone: str) -> bool:
    """Whether something lies in working hours, 08:00 to 18:00, on the clocks of a zone."""
    begins, ends = cadence.local(start, zone), cadence.local(start + length, zone)
    return begins.date() == ends.date() and HOURS[0] <= begins.time() and ends.time() <= HOURS[1]
