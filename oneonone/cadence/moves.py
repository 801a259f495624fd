"""Checks for moving one meeting, and the choice of the meeting that a day belongs to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from oneonone.cadence.refusals import InvalidMove
from oneonone.cadence.rule import Rule
from oneonone.cadence.workdays import Workdays

EARLIER_DAYS = 7


@dataclass(frozen=True)
class Claim:
    """Which planned meeting a day on which both met may have been.

    `likely` when the two days are nearer than half an interval, so that yes is the default answer.
    """

    planned: date
    likely: bool


def check_move(to: date, previous: date | None, following: date | None) -> None:
    """Refuse a move that reaches or passes the meeting before or after; any day between is accepted.

    A day on which one of the two does not work is accepted: they may agree on it by hand.
    """
    if following is not None and to >= following:
        raise InvalidMove(
            "day", f"a day before the next meeting on {following}; or call one of the two off", to
        )
    if previous is not None and to <= previous:
        raise InvalidMove("day", f"a day after the meeting before it on {previous}", to)


def nearest_days(wanted: date, days: Workdays, after: date, before: date, most: int = 5) -> tuple[date, ...]:
    """Working days nearest to a wanted one, strictly between two others, nearest first.

    Of two equally near days the later comes first, because it is more likely to be free.
    """
    found: list[date] = []
    reach = max(abs((before - wanted).days), abs((wanted - after).days))
    for distance in range(reach):
        pair = (wanted + timedelta(distance), wanted - timedelta(distance))
        found.extend(day for day in dict.fromkeys(pair) if after < day < before and days.works(day))
        if len(found) >= most:
            break
    return tuple(found[:most])


def claimed(met: date, planned: Sequence[date], rule: Rule) -> Claim | None:
    """The planned meeting nearest to a day on which both met, the earlier of two equally near."""
    if not planned:
        return None
    nearest = min(planned, key=lambda day: (abs((day - met).days), day))
    interval = rule.interval_end(nearest) - nearest
    return Claim(nearest, 2 * abs(nearest - met) < interval)


def leaves_its_date(day: date, nominal: date, rule: Rule) -> bool:
    """Whether a meeting on ``day`` is so much earlier than its date that the date still stands.

    That is a week or more, or more than half an interval if that is less. Such a meeting was an additional
    one, and without the date the silence after it would exceed the interval. A nearer one was only moved.
    """
    earlier = (nominal - day).days
    interval = (rule.interval_end(nominal) - nominal).days
    return earlier >= EARLIER_DAYS or 2 * earlier > interval
