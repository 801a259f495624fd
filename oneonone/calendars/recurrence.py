"""The starts of a repeating event inside a window, by dateutil, in a bounded number of steps.

dateutil rather than a library for whole calendars: it is here already for the meetings' own dates, and it
takes the first date and the interval from us. So a rule that began years ago is begun again shortly before
the window (a whole number of intervals later, which gives the same dates), and each step it takes is counted.
Without that a rule that never gives a date, such as every 30 February, is followed to the year 9999.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from dateutil import rrule

from oneonone.calendars.refusals import TooManyTimes, UnreadableEntry

FREQUENCIES = {name: getattr(rrule, name) for name in ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")}
SUB_DAILY = ("HOURLY", "MINUTELY", "SECONDLY")
# What a step costs beside a daily one, as measured with dateutil 2.9: of a year all days are looked at.
WEIGHT = {"DAILY": 1, "WEEKLY": 2, "MONTHLY": 3, "YEARLY": 20}
MOST_WEIGHT = 1_000_000
NUMBERS = {
    "BYMONTH": "bymonth", "BYMONTHDAY": "bymonthday", "BYYEARDAY": "byyearday", "BYWEEKNO": "byweekno",
    "BYSETPOS": "bysetpos",
}  # fmt: skip
MOST_NUMBERS = 400
DAYS = {day: number for number, day in enumerate(("MO", "TU", "WE", "TH", "FR", "SA", "SU"))}
NUMBERED_DAY = re.compile(r"([+-]?\d{1,2})?(MO|TU|WE|TH|FR|SA|SU)")


class Budget:
    """The limit of steps for following the rules of one file."""

    def __init__(self, most: int = MOST_WEIGHT) -> None:
        self.left = most

    def spend(self, weight: int) -> None:
        """Raise TooManyTimes once more than that is spent."""
        self.left -= weight
        if self.left < 0:
            raise TooManyTimes


class Counted(int):
    """An interval that counts the steps taken by it: dateutil adds it, or a week of it, at each."""

    budget: Budget
    weight: int

    def __radd__(self, other: int) -> int:
        self.budget.spend(self.weight)
        return other + int(self)

    def __mul__(self, other: int) -> int:
        self.budget.spend(self.weight)
        return int(self) * other


def starts(
    rule: Mapping[str, Any], first: dt.datetime, *, after: dt.datetime, before: dt.datetime, budget: Budget
) -> Iterator[dt.datetime]:
    """The starts by ``rule`` (names in capitals, lists of values, as RFC 5545 3.3.10) from ``first`` on.

    All are local times without a zone, as is ``UNTIL`` if there is one. Refused: what repeats within a day,
    what cannot be read, and what spends more than the budget.
    """
    frequency = str(_one(rule, "FREQ")).upper()
    if frequency in SUB_DAILY or any(name in rule for name in ("BYHOUR", "BYMINUTE", "BYSECOND")):
        raise TooManyTimes
    every, count, until = _one(rule, "INTERVAL"), _one(rule, "COUNT"), _one(rule, "UNTIL")
    every = 1 if every is None else every
    if frequency not in FREQUENCIES or every < 1 or (count is not None and count < 1):
        raise UnreadableEntry
    last = before if until is None else min(before, until)
    if last < after:
        return
    by = _by(rule)
    if count is None:
        first, by = _later(first, frequency, every, by, after)
    interval = Counted(every)
    interval.budget, interval.weight = budget, WEIGHT[frequency]
    try:
        found = rrule.rrule(
            FREQUENCIES[frequency],
            dtstart=first,
            interval=interval,
            wkst=_days(_list(rule, "WKST"))[0] if rule.get("WKST") else None,
            count=count,
            **by,
        )
        for start in found:
            if start > last:
                return
            if start >= after:
                yield start
    except (ValueError, OverflowError, IndexError):
        raise UnreadableEntry from None


def _later(
    first: dt.datetime, frequency: str, every: int, by: dict[str, Any], after: dt.datetime
) -> tuple[dt.datetime, dict[str, Any]]:
    """Return the rule restarted before the window.

    Parts that the first date implied are written out in it.
    """
    if frequency in ("DAILY", "WEEKLY"):
        step = dt.timedelta(days=every * (7 if frequency == "WEEKLY" else 1))
        if frequency == "WEEKLY" and "byweekday" not in by:
            by = {**by, "byweekday": (first.weekday(),)}
        return first + step * max(0, (after - first) // step - 1), by
    if not by.keys() & {"byweekday", "bymonthday", "byyearday", "byweekno"}:
        by = {**by, "bymonthday": (first.day,)}
        if frequency == "YEARLY":
            by.setdefault("bymonth", (first.month,))
    months = (after.year - first.year) * 12 + after.month - first.month
    step_months = every * (12 if frequency == "YEARLY" else 1)
    skipped = max(0, months // step_months - 1) * step_months
    if not skipped:
        return first, by
    year, month = divmod(first.year * 12 + first.month - 1 + skipped, 12)
    return first.replace(year=year, month=1 if frequency == "YEARLY" else month + 1, day=1), by


def _by(rule: Mapping[str, Any]) -> dict[str, Any]:
    by: dict[str, Any] = {}
    for name, argument in NUMBERS.items():
        if numbers := _list(rule, name):
            by[argument] = tuple(int(number) for number in numbers)
    if days := _list(rule, "BYDAY"):
        by["byweekday"] = _days(days)
    return by


def _days(names: Iterable[Any]) -> tuple[Any, ...]:
    found: list[Any] = []
    for name in names:
        match = NUMBERED_DAY.fullmatch(str(name).upper())
        if match is None or match[1] in ("0", "00"):
            raise UnreadableEntry
        day = rrule.weekdays[DAYS[match[2]]]
        found.append(day(int(match[1])) if match[1] else day)
    return tuple(found)


def _list(rule: Mapping[str, Any], name: str) -> list[Any]:
    values = rule.get(name) or []
    found = values if isinstance(values, list) else [values]
    if len(found) > MOST_NUMBERS:
        raise TooManyTimes
    return found


def _one(rule: Mapping[str, Any], name: str) -> Any:
    values = _list(rule, name)
    if len(values) > 1:
        raise UnreadableEntry
    return values[0] if values else None
