"""The agreed interval as a grid of dates."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import MAXYEAR, date, timedelta
from functools import cached_property
from itertools import count
from typing import Literal

from oneonone.cadence.refusals import InvalidRule

Unit = Literal["weeks", "months"]

MOST = {"weeks": 52, "months": 12}
EARLIEST, LATEST = date(1900, 1, 1), date(2199, 12, 31)
LAST = -1
FIFTH = 5
WEEK = timedelta(days=7)
# Half a month: the shortest interval of a line that meets twice a month.
HALF_MONTH = timedelta(days=15)
# By how many days the next date may be later than the same day of the next month: the last Monday goes from
# 22 February to 29 March. Fifth weekdays skip up to three more months.
SLACK, TWO_DATES_SLACK, FIFTH_SLACK = timedelta(days=7), timedelta(days=9), timedelta(days=91)
SHORTEST_MONTH, LONGEST_MONTH = 28, 31
LAST_WEEKDAY_OF_WORK = 5


def add_months(day: date, months: int) -> date:
    """The same day of the month that many months later, or the last day of a shorter month."""
    return day_in(month_of(day) + months, day.day)


def month_of(day: date) -> int:
    """Months counted from year 0, so that a month plus n is n months later."""
    return day.year * 12 + day.month - 1


def day_in(month: int, day: int) -> date:
    """A day of a counted month, or its last one when the month is shorter."""
    year, index = divmod(month, 12)
    if day > SHORTEST_MONTH:
        day = min(day, monthrange(year, index + 1)[1])
    return date(year, index + 1, day)


@dataclass(frozen=True)
class Rule:
    """An agreed interval: every n weeks or months, and on which day.

    `every` and `unit` are 1 to 52 weeks or 1 to 12 months. The first date is the first one on or
    after `anchor` that fits; the others are counted from it, never from the year or the week
    number, so that a year with 53 weeks changes nothing. The dates are those of `to_rrule`, computed
    here without walking from the first one, which a recurrence library has to do.

    In weeks, `weekday` (ISO 8601, Monday is 1) is the only choice; without it, the anchor's.
    In months, one of four: `weekday` with `ordinal` (1 to 5, or -1 for the last); `day` (1 to 31,
    the last day of a shorter month), with `second_day` for two dates in every month;
    `last_working_day`; or none of them, meaning the anchor's day of the month.

    A fifth weekday is missing from most months, and they are passed over (RFC 5545, 3.3.10), so
    it is accepted only in every month. The dates are nominal: working days come in `occurrences`.
    """

    every: int
    unit: Unit
    anchor: date
    weekday: int | None = None
    ordinal: int | None = None
    day: int | None = None
    last_working_day: bool = False
    second_day: int | None = None

    def __post_init__(self) -> None:
        check(self)

    @cached_property
    def first(self) -> date:
        """The first date of the grid."""
        if self.unit == "weeks":
            ahead = ((self.weekday or self.anchor.isoweekday()) - self.anchor.isoweekday()) % 7
            return self.anchor + timedelta(days=ahead)
        months = count(month_of(self.anchor))
        return next(day for month in months for day in self._dates_in(month) if day >= self.anchor)

    def dates_after(self, day: date) -> Iterator[date]:
        """The nominal dates later than a day, without end (to the last year a date can hold)."""
        if self.unit == "weeks":
            step = self.every * WEEK
            passed = max(0, (day - self.first) // step + 1)
            last = (date.max - self.first) // step
            return (self.first + k * step for k in range(passed, last + 1))
        return self._month_dates_after(day)

    def next_after(self, day: date) -> date:
        """The first nominal date later than a day."""
        if self.unit == "weeks":
            step = self.every * WEEK
            return self.first + max(0, (day - self.first) // step + 1) * step
        return next(self._month_dates_after(day))

    def interval_end(self, day: date) -> date:
        """The day one interval after a day.

        Weeks are weeks of seven days. Months are the same day so many months later, or the last
        day of a shorter month. Two dates a month allow at least half a month.
        """
        if self.unit == "weeks":
            return day + self.every * WEEK
        if self.second_day is not None:
            return day + HALF_MONTH
        return add_months(day, self.every)

    def allowed_until(self, day: date) -> date:
        """The last day on which a silence that began on a day is still within the interval.

        The end of the interval, or the next agreed date where the pattern brings it a little later: a
        month by weekday has now 28 and now 35 days, and a line that meets on exactly its agreed dates
        is never past its interval.
        """
        end = self.interval_end(day)
        if self.unit == "weeks":
            return end
        following = self.next_after(day)
        return following if end < following <= end + self._slack() else end

    @property
    def is_four_weeks_or_more(self) -> bool:
        """Which column of the defaults holds. Every whole month counts as four weeks or more."""
        if self.unit == "weeks":
            return self.every >= 4
        return self.second_day is None

    def restarted(self, after: date) -> Rule:
        """The same pattern, its first date moved behind the meeting that stays on a day.

        The first date is the latest of the pattern that keeps the interval counted from that
        meeting; where the pattern has none so near, the first one later than it.
        """
        pattern = replace(
            self,
            every=1,
            anchor=after + timedelta(days=1),
            weekday=self._pattern_weekday(),
            day=self._pattern_day(),
        )
        limit = self.interval_end(after)
        first = pattern.first
        for later in pattern.dates_after(first):
            if later > limit:
                break
            first = later
        return replace(pattern, every=self.every, anchor=first)

    def _slack(self) -> timedelta:
        if self.second_day is not None:
            return TWO_DATES_SLACK
        return FIFTH_SLACK if self.ordinal == FIFTH else SLACK

    def _pattern_weekday(self) -> int | None:
        return self.weekday or (self.anchor.isoweekday() if self.unit == "weeks" else None)

    def _pattern_day(self) -> int | None:
        anchored = self.unit == "months" and self.weekday is None and not self.last_working_day
        return self.day or (self.anchor.day if anchored else None)

    def _month_dates_after(self, day: date) -> Iterator[date]:
        start = month_of(self.first)
        passed = max(0, (month_of(day) - start) // self.every)
        for month in range(start + passed * self.every, (MAXYEAR + 1) * 12, self.every):
            for found in self._dates_in(month):
                if found > day and found >= self.first:
                    yield found

    def _dates_in(self, month: int) -> tuple[date, ...]:
        if self.last_working_day:
            last = day_in(month, LONGEST_MONTH)
            return (last - timedelta(days=max(0, last.isoweekday() - LAST_WEEKDAY_OF_WORK)),)
        if self.weekday is not None and self.ordinal is not None:
            return weekdays_in(month, self.weekday, self.ordinal)
        day = self.day or self.anchor.day
        if self.second_day is None:
            return (day_in(month, day),)
        return tuple(day_in(month, each) for each in sorted((day, self.second_day)))


def weekdays_in(month: int, weekday: int, ordinal: int) -> tuple[date, ...]:
    """The nth weekday of a counted month, or the last; none if the month has no fifth."""
    if ordinal == LAST:
        last = day_in(month, LONGEST_MONTH)
        return (last - timedelta(days=(last.isoweekday() - weekday) % 7),)
    first = day_in(month, 1)
    found = first + timedelta(days=(weekday - first.isoweekday()) % 7) + (ordinal - 1) * WEEK
    return (found,) if month_of(found) == month else ()


def check(rule: Rule) -> None:
    """Refuse a rule that describes no grid, naming the field and what it takes."""
    if rule.unit not in MOST:
        raise InvalidRule("unit", "weeks or months", rule.unit)
    most = MOST[rule.unit]
    if not 1 <= rule.every <= most:
        raise InvalidRule("every", f"1 to {most} {rule.unit}", rule.every)
    if not EARLIEST <= rule.anchor <= LATEST:
        raise InvalidRule("anchor", f"a date from {EARLIEST} to {LATEST}", rule.anchor)
    if rule.weekday is not None and not 1 <= rule.weekday <= 7:
        raise InvalidRule("weekday", "1 (Monday) to 7 (Sunday)", rule.weekday)
    if rule.unit == "weeks":
        check_weeks(rule)
    else:
        check_months(rule)


def check_weeks(rule: Rule) -> None:
    """In weeks, only the weekday may be chosen."""
    for field in ("ordinal", "day", "second_day"):
        if getattr(rule, field) is not None:
            raise InvalidRule(field, "nothing when the interval is in weeks", getattr(rule, field))
    if rule.last_working_day:
        raise InvalidRule("last_working_day", "an interval in months", True)


def check_months(rule: Rule) -> None:
    """In months, one way of naming the day; a second day only in every month."""
    if rule.ordinal is not None and rule.ordinal not in (1, 2, 3, 4, FIFTH, LAST):
        raise InvalidRule("ordinal", "1 to 5, or -1 for the last", rule.ordinal)
    if (rule.weekday is None) != (rule.ordinal is None):
        missing = "weekday" if rule.weekday is None else "ordinal"
        raise InvalidRule(missing, "a weekday and an ordinal together, in months", None)
    if rule.ordinal == FIFTH and rule.every != 1:
        raise InvalidRule("ordinal", "1 to 4, or -1 for the last, unless every month", rule.ordinal)
    for field in ("day", "second_day"):
        value = getattr(rule, field)
        if value is not None and not 1 <= value <= LONGEST_MONTH:
            raise InvalidRule(field, "1 to 31", value)
    ways = [rule.weekday is not None, rule.day is not None, rule.last_working_day]
    if sum(ways) > 1:
        raise InvalidRule("day", "one of: a weekday with its ordinal, a day, the last working day", rule.day)
    if rule.second_day is not None:
        check_second_day(rule)


def check_second_day(rule: Rule) -> None:
    """Two dates a month stand at least a week apart, in February too."""
    if rule.day is None:
        raise InvalidRule("second_day", "a day beside it", rule.second_day)
    if rule.every != 1:
        raise InvalidRule("second_day", "every 1 month", rule.every)
    first, second = sorted((rule.day, rule.second_day or rule.day))
    for length in range(SHORTEST_MONTH, LONGEST_MONTH + 1):
        within = min(second, length) - min(first, length)
        across = first + length - min(second, length)
        if min(within, across) < 7:
            raise InvalidRule("second_day", "a day at least a week from the other in every month", second)
