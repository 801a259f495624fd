"""The days on which meetings fall: agreed dates moved to days on which both work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import Literal

from oneonone.cadence.refusals import InvalidPeriod
from oneonone.cadence.rule import LONGEST_MONTH, Rule, day_in, month_of
from oneonone.cadence.workdays import DAY, Workdays

State = Literal["as agreed", "shifted", "both away"]


@dataclass(frozen=True)
class Occurrence:
    """One date of the grid and the day it falls on.

    `nominal` is the date of the grid, by which the meeting is known for good. `day` is where it
    falls on account of working days, and nothing when it is skipped as "both away".
    """

    nominal: date
    day: date | None
    state: State


@dataclass(frozen=True)
class Stretch:
    """A rule whose grid gives the agreed dates later than `after`, up to and including `last`.

    Without `after` the grid holds from the rule's anchor on; without `last`, until the next stretch
    takes over. `changeover` makes the stretches of a change.
    """

    rule: Rule
    after: date | None = None
    last: date | None = None


def changeover(stretches: Sequence[Stretch], rule: Rule, nominal: date, day: date) -> tuple[Stretch, ...]:
    """The stretches of a line when its interval changes in mid-course.

    `nominal` and `day` are the agreed date and the day of the one open coming meeting, wherever it was
    moved; without one, both are the day of the change. That meeting stays; the old grid gives no date
    after it, the new one none up to it.
    """
    *earlier, current = stretches
    return (*earlier, replace(current, last=nominal), Stretch(rule, after=max(nominal, day)))


def occurrences(rule: Rule, days: Workdays, after: date, until: date) -> Iterator[Occurrence]:
    """The occurrences whose agreed date is later than `after` and not later than `until`.

    A date on which not both work moves to the first later day on which both do. If none comes
    before the next date of the grid, it is skipped as "both away". The last working day of a month
    is the last one on which both work in that month, so it moves back first; only when the month
    has none does it move on, and then never to or past the day of the next one.
    """
    return (found for _, found in course((Stretch(rule),), days, after, until))


def course(
    stretches: Sequence[Stretch], days: Workdays, after: date, until: date
) -> Iterator[tuple[int, Occurrence]]:
    """The occurrences of a line whose interval changed, each with the place of its stretch.

    Stretches stand in the order in which they took over. No date of an earlier grid is repeated or
    passed by a later one: each grid gives the dates up to where the next takes over, and a date
    that moves stays before the first date of the next grid.
    """
    check_order(stretches)
    last = min(until, stretches[-1].last or until)
    for (place, nominal), following in pairwise(nominal_dates(stretches, after)):
        if nominal > last:
            return
        yield place, settle(stretches, place, nominal, following, days)


def nominal_dates(stretches: Sequence[Stretch], after: date) -> Iterator[tuple[int, date]]:
    """The agreed dates later than a day, each with the place of its stretch, without end.

    The last stretch goes on past its own last date: where that one may move to depends on the next.
    """
    for place, stretch in enumerate(stretches):
        following = stretches[place + 1] if place + 1 < len(stretches) else None
        ends = None if following is None else stretch.last or following.after
        since = after if stretch.after is None else max(after, stretch.after)
        for nominal in stretch.rule.dates_after(since):
            if ends is not None and nominal > ends:
                break
            yield place, nominal


def settle(
    stretches: Sequence[Stretch], place: int, nominal: date, following: tuple[int, date], days: Workdays
) -> Occurrence:
    """Where one agreed date falls, given the next agreed date."""
    next_place, limit = following
    limit = min(limit, own_day(stretches[next_place], limit, days) or limit)
    day = own_day(stretches[place], nominal, days)
    if day is None or day >= limit:
        day = days.first_from(nominal, limit)
    if day is None:
        return Occurrence(nominal, None, "both away")
    return Occurrence(nominal, day, "as agreed" if day == nominal else "shifted")


def own_day(stretch: Stretch, nominal: date, days: Workdays) -> date | None:
    """The day of an agreed date where nothing needs to move on, if there is one."""
    if not stretch.rule.last_working_day:
        return nominal if days.works(nominal) else None
    month = month_of(nominal)
    floor = max(day_in(month, 1), stretch.rule.anchor) - DAY
    return days.last_to(day_in(month, LONGEST_MONTH), max(floor, stretch.after or floor))


def check_order(stretches: Sequence[Stretch]) -> None:
    """Refuse stretches that take over out of order, or a later one that does not say when."""
    for earlier, later in pairwise(stretches):
        begun = max(earlier.after or date.min, earlier.last or date.min)
        if later.after is None or later.after < begun:
            raise InvalidPeriod(
                "stretches", "each taking over after the dates of the one before it", later.after
            )
