"""Days on which people work: weeks, public holidays, closing days, days away."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property

from oneonone.cadence.publicholidays import check_country, holidays_in
from oneonone.cadence.refusals import InvalidWorkingDays, NoWorkingDay

DAY = timedelta(days=1)
MONDAY_TO_FRIDAY = frozenset({1, 2, 3, 4, 5})
# Longer than any leave. If no day is found within it, the entered days are wrong.
REACH = 3660


class Workdays(ABC):
    """The interface of everything that knows which days are worked."""

    @property
    @abstractmethod
    def weekdays(self) -> frozenset[int]:
        """The ISO weekdays on which work is possible at all."""

    @abstractmethod
    def works(self, day: date) -> bool:
        """Whether work is done on that day."""

    def add(self, day: date, n: int) -> date:
        """The nth working day after a day, or before it when n is negative.

        The day itself is not counted, worked or not: one working day after a Saturday is Monday.
        Zero gives the day back. `NoWorkingDay` when ten years hold too few.
        """
        return self.counted(day, n)[-1] if n else day

    def counted(self, day: date, n: int) -> list[date]:
        """The first n working days after a day, or before it when n is negative, nearest first."""
        step = DAY if n > 0 else -DAY
        found: list[date] = []
        searched = 0 if self.weekdays else REACH
        while len(found) < abs(n):
            if searched >= REACH:
                raise NoWorkingDay("working days", "a working day within ten years", day)
            day += step
            searched += 1
            if self.works(day):
                found.append(day)
                searched = 0
        return found

    def first_from(self, day: date, before: date) -> date | None:
        """The first working day on or after a day and earlier than another, if there is one."""
        while day < before:
            if self.works(day):
                return day
            day += DAY
        return None

    def last_to(self, day: date, after: date) -> date | None:
        """The last working day on or before a day and later than another, if there is one."""
        while day > after:
            if self.works(day):
                return day
            day -= DAY
        return None

    def count(self, first: date, until: date) -> int:
        """How many working days from a first day up to, not including, another."""
        return sum(self.works(first + DAY * k) for k in range((until - first).days))


@dataclass(frozen=True)
class WorkingDays(Workdays):
    """One person's working days.

    `week` holds ISO weekdays (Monday is 1). `holidays` are single days off, such as the days a
    company is closed; public holidays are added by `country` (ISO 3166-1 alpha-2) and
    `subdivision` (as in ISO 3166-2, without the country), looked up year by year as needed.
    `away` are first and last days, both away.
    """

    week: frozenset[int] = MONDAY_TO_FRIDAY
    holidays: frozenset[date] = frozenset()
    away: tuple[tuple[date, date], ...] = ()
    country: str | None = None
    subdivision: str | None = None

    def __post_init__(self) -> None:
        if not self.week or not self.week <= frozenset(range(1, 8)):
            raise InvalidWorkingDays("week", "at least one of 1 (Monday) to 7 (Sunday)", sorted(self.week))
        for first, last in self.away:
            if last < first:
                raise InvalidWorkingDays("away", "a last day on or after the first", (first, last))
        check_country(self.country, self.subdivision)

    @property
    def weekdays(self) -> frozenset[int]:
        """The weekdays of the working week."""
        return self.week

    def works(self, day: date) -> bool:
        """Whether the person works on that day."""
        if day.isoweekday() not in self.week or day in self.holidays:
            return False
        for first, last in self.away:
            if first <= day <= last:
                return False
        return self.country is None or day not in holidays_in(self.country, self.subdivision, day.year)


@dataclass(frozen=True)
class Common(Workdays):
    """The days on which everybody works."""

    people: tuple[Workdays, ...]

    @cached_property
    def weekdays(self) -> frozenset[int]:
        """The weekdays that all the working weeks share; possibly none."""
        return frozenset[int](range(1, 8)).intersection(*(person.weekdays for person in self.people))

    def works(self, day: date) -> bool:
        """Whether all of them work on that day."""
        for person in self.people:  # noqa: SIM110  # a generator costs as much again where time is spent most
            if not person.works(day):
                return False
        return True


def common(a: Workdays, b: Workdays) -> Workdays:
    """The days on which both work. Two weeks that share no weekday give days that are never worked."""
    return Common((a, b))


def closed(days: WorkingDays, closing: Iterable[date]) -> WorkingDays:
    """The same person's working days, less the days on which the company is closed."""
    return replace(days, holidays=days.holidays | frozenset(closing))
