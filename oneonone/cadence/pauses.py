"""Pauses: periods without meetings. Their days are not counted as silence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from oneonone.cadence.refusals import InvalidPeriod
from oneonone.cadence.workdays import DAY

# The due day of a silence during a pause without an end.
NEVER = date.max


@dataclass(frozen=True)
class Pause:
    """A time without meetings by agreement: first and last day, or no end yet."""

    first: date
    last: date | None = None

    def __post_init__(self) -> None:
        if self.last is not None and self.last < self.first:
            raise InvalidPeriod("last", f"a day on or after {self.first}, or none", self.last)


def stretched(basis: date, end: date, pauses: Sequence[Pause]) -> date:
    """An end moved on by the paused days between it and a beginning; `NEVER` if a pause has no end."""
    if not pauses:
        return end
    for first, last in merged(pauses):
        first = max(first, basis + DAY)
        if first > end:
            break
        if last is None:
            return NEVER
        if last >= first:
            end += last - first + DAY
    return end


def counted_days(basis: date, until: date, pauses: Sequence[Pause]) -> int:
    """The days after one day, up to and including another, that are not paused."""
    total = max(0, (until - basis).days)
    if not pauses:
        return total
    for first, last in merged(pauses):
        start, stop = max(first, basis + DAY), until if last is None else min(last, until)
        total -= max(0, (stop - start).days + 1)
    return total


def merged(pauses: Sequence[Pause]) -> list[tuple[date, date | None]]:
    """Return the pauses in order; overlapping or adjacent ones are merged."""
    spans: list[tuple[date, date | None]] = []
    for pause in sorted(pauses, key=lambda pause: pause.first):
        if spans:
            first, last = spans[-1]
            if last is None:
                break
            if pause.first <= last + DAY:
                spans[-1] = (first, None if pause.last is None else max(last, pause.last))
                continue
        spans.append((pause.first, pause.last))
    return spans


def pause_on(day: date, pauses: Sequence[Pause]) -> Pause | None:
    """The pause in which a day lies."""
    if not pauses:
        return None
    for first, last in merged(pauses):
        if first <= day and (last is None or day <= last):
            return Pause(first, last)
    return None


def unpaused(first: date, last: date, pauses: Sequence[Pause]) -> list[tuple[date, date]]:
    """Return the parts of a span of days that are not paused."""
    left: list[tuple[date, date]] = []
    for begins, ends in merged(pauses):
        if begins > last:
            break
        if first < begins:
            left.append((first, begins - DAY))
        if ends is None:
            return left
        first = max(first, ends + DAY)
    if first <= last:
        left.append((first, last))
    return left
