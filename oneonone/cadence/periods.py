"""How often meetings happened over a period, judged by the interval agreed at the time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from oneonone.cadence.pauses import Pause, counted_days, unpaused
from oneonone.cadence.refusals import InvalidPeriod
from oneonone.cadence.standing import Agreement, due_day
from oneonone.cadence.workdays import DAY


@dataclass(frozen=True)
class Silence:
    """A stretch without a meeting: from the meeting held (or the start) to the next (or the period's end)."""

    first: date
    last: date
    days: int


@dataclass(frozen=True)
class Share:
    """Of the meetings held, how many came within the interval agreed at the time."""

    within: int
    held: int


def silence(held: Sequence[date], began: date, on: date, pauses: Sequence[Pause] = ()) -> int:
    """The days not paused since the last meeting held by a day, or since the line began."""
    return counted_days(max((day for day in held if day <= on), default=began), on, pauses)


def silences(
    held: Sequence[date], began: date, first: date, last: date, pauses: Sequence[Pause] = ()
) -> tuple[Silence, ...]:
    """The silences that touch a period, oldest first, the last one up to the period's end.

    Each is counted whole, from the meeting before it, even when that lies before the period.
    """
    check_period(first, last)
    days = sorted({day for day in held if day <= last})
    start = days[0] if days and days[0] < began else began
    edges = [start, *(day for day in days if day > start), last]
    spans = [(a, b) for a, b in pairwise(edges) if a < b and (b > first or b not in days)]
    return tuple(Silence(a, b, counted_days(a, b, pauses)) for a, b in spans)


def longest_silence(
    held: Sequence[date], began: date, first: date, last: date, pauses: Sequence[Pause] = ()
) -> Silence | None:
    """The longest silence that touches a period, the earliest of equals; none before the line began."""
    return max(silences(held, began, first, last, pauses), key=lambda silence: silence.days, default=None)


def share_within(
    agreements: Sequence[Agreement],
    held: Sequence[date],
    began: date,
    first: date,
    last: date,
    pauses: Sequence[Pause] = (),
) -> Share:
    """Of the meetings held in a period, how many came while the interval agreed at the time still ran.

    The first meeting is judged from the day the line began.
    """
    check_period(first, last)
    days = sorted({day for day in held if day <= last})
    within = counted = 0
    for before, day in zip([began, *days], days, strict=False):
        if day < first:
            continue
        counted += 1
        due = due_day(agreements, min(before, day), day, pauses)
        within += due is None or day <= due
    return Share(within, counted)


def past_interval(
    agreements: Sequence[Agreement],
    held: Sequence[date],
    began: date,
    first: date,
    last: date,
    pauses: Sequence[Pause] = (),
) -> tuple[tuple[date, date], ...]:
    """The days of a period on which silence was past the interval agreed then, as first and last days."""
    check_period(first, last)
    met = set(held)
    spans: list[tuple[date, date]] = []
    for quiet in silences(held, began, first, last, pauses):
        ends = quiet.last - DAY if quiet.last in met else quiet.last
        for start, stop, due in judged(agreements, quiet, pauses):
            begins, closes = max(start, first, due + DAY), min(stop, ends)
            if begins <= closes:
                spans.extend(unpaused(begins, closes, pauses))
    return joined(spans)


def judged(
    agreements: Sequence[Agreement], quiet: Silence, pauses: Sequence[Pause]
) -> Iterator[tuple[date, date, date]]:
    """The parts of a silence on which the same agreements held: first day, last day, due day."""
    starts = sorted(
        {row.effective_from for row in agreements if quiet.first < row.effective_from <= quiet.last}
    )
    edges = [quiet.first + DAY, *(start for start in starts if start > quiet.first + DAY), quiet.last + DAY]
    for start, stop in pairwise(edges):
        due = due_day(agreements, quiet.first, start, pauses)
        if due is not None:
            yield start, stop - DAY, due


def joined(spans: Sequence[tuple[date, date]]) -> tuple[tuple[date, date], ...]:
    """Return the spans in order; adjacent ones are merged."""
    found: list[tuple[date, date]] = []
    for first, last in spans:
        if found and first == found[-1][1] + DAY:
            found[-1] = (found[-1][0], last)
        else:
            found.append((first, last))
    return tuple(found)


def check_period(first: date, last: date) -> None:
    """Refuse a period that ends before it begins."""
    if last < first:
        raise InvalidPeriod("last", f"a day on or after {first}", last)
