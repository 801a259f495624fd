"""The clock changes of a zone over some years, stored to be compared: the time zone database changes."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

from oneonone.cadence.zones import clock_changes, local


@dataclass(frozen=True)
class Clocks:
    """The offset from UTC at midnight UTC of a first day, and every change of it before a last one.

    ``changes`` are in order: when, in UTC and to the minute, and the offset from then on.
    """

    first: date
    until: date
    offset: timedelta
    changes: tuple[tuple[datetime, timedelta], ...]

    @classmethod
    def of(cls, zone: str, first: date, until: date) -> Clocks:
        """Return the clocks of a zone by the time zone database of this machine."""
        began = local(datetime.combine(first, time(0), tzinfo=UTC), zone)
        return cls(first, until, began.utcoffset() or timedelta(0), clock_changes(zone, first, until))

    def offset_at(self, instant: datetime) -> timedelta:
        """The offset at an instant. Before the first day and after the last one, that of the nearest."""
        place = bisect_right([when for when, _offset in self.changes], instant)
        return self.changes[place - 1][1] if place else self.offset

    def local(self, instant: datetime) -> datetime:
        """The local time of an instant by these clocks, without a zone."""
        return instant.astimezone(UTC).replace(tzinfo=None) + self.offset_at(instant)


def differing(a: Clocks, b: Clocks) -> tuple[tuple[datetime, datetime], ...]:
    """The stretches of time, from an instant up to another, in which the clocks of two rules differ.

    Compared over the days that both cover.
    """
    first, until = (
        datetime.combine(day, time(0), tzinfo=UTC) for day in (max(a.first, b.first), min(a.until, b.until))
    )
    inside = {when for rules in (a, b) for when, _offset in rules.changes if first < when < until}
    edges = sorted({first, until} | inside) if first < until else []
    found: list[tuple[datetime, datetime]] = []
    for begins, ends in pairwise(edges):
        if a.offset_at(begins) == b.offset_at(begins):
            continue
        if found and found[-1][1] == begins:
            found[-1] = (found[-1][0], ends)
        else:
            found.append((begins, ends))
    return tuple(found)
