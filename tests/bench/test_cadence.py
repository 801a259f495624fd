"""Recomputing the next meeting's instants of 100,000 lines, beside the conversions that nothing can spare.

The floor does, for as many lines, only what any program must: six local times of the line's zone turned
into UTC by the standard library. The figure is the ratio of the two, each the best of several turns
taken in alternation, so that the machine's mood falls on both. Run with -s to see the figures.
"""

from __future__ import annotations

import cProfile
import gc
import pstats
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from time import perf_counter
from zoneinfo import ZoneInfo

from oneonone.cadence import (
    Instants,
    Notice,
    Rule,
    Workdays,
    WorkingDays,
    common,
    instants,
    occurrences,
)

LINES = 100_000
FEWER = LINES // 10
TURNS = 3
STEPS = 6
TODAY = date(2026, 11, 25)
AHEAD = date(2028, 1, 1)
ZONES = ("Europe/London", "America/New_York", "Australia/Sydney", "Asia/Kathmandu")
PLACES = (("GB", "ENG"), ("GB", "SCT"), ("US", "NY"), ("DE", "BY"), ("NO", None))


@dataclass(frozen=True)
class Line:
    rule: Rule
    days: Workdays
    zone: str
    at: time


def make_lines(n: int) -> list[Line]:
    """Lines of every usual interval, between people of five calendars, each away once this winter."""
    chance = random.Random(20261125)

    def person() -> WorkingDays:
        first = TODAY - timedelta(days=20) + timedelta(days=chance.randrange(60))
        country, subdivision = chance.choice(PLACES)
        away = ((first, first + timedelta(days=chance.randrange(10))),)
        return WorkingDays(away=away, country=country, subdivision=subdivision)

    def rule() -> Rule:
        anchor = date(2026, 1, 1) + timedelta(days=chance.randrange(300))
        return chance.choice(
            [
                Rule(2, "weeks", anchor),
                Rule(1, "months", anchor),
                Rule(3, "months", anchor, weekday=2, ordinal=1),
                Rule(13, "weeks", anchor),
            ]
        )

    return [
        Line(rule(), common(person(), person()), chance.choice(ZONES), time(chance.randrange(8, 17)))
        for _ in range(n)
    ]


def recompute(lines: Sequence[Line]) -> list[Instants]:
    """The next meeting of each line, with its instants."""
    found = []
    for line in lines:
        notice = Notice.defaults_for(line.rule)
        coming = (one.day for one in occurrences(line.rule, line.days, TODAY, AHEAD) if one.day is not None)
        found.append(instants(next(coming), line.at, line.zone, 45, line.days, notice))
    return found


def convert(lines: Sequence[Line]) -> list[datetime]:
    """Six local times of each line in UTC: the floor."""
    days = [TODAY + timedelta(days=k) for k in range(STEPS)]
    return [
        datetime.combine(day, line.at, tzinfo=ZoneInfo(line.zone)).astimezone(UTC)
        for line in lines
        for day in days
    ]


def best(act: Callable[[], object], other: Callable[[], object]) -> tuple[float, float]:
    """Seconds of each, the best of several turns in alternation."""
    seconds: list[tuple[float, float]] = []
    for _ in range(TURNS):
        gc.collect()
        begun = perf_counter()
        act()
        between = perf_counter()
        other()
        seconds.append((between - begun, perf_counter() - between))
    return min(one for one, _ in seconds), min(two for _, two in seconds)


def test_recomputing_every_line_stays_near_the_conversions_it_needs() -> None:
    lines = make_lines(LINES)
    assert all(TODAY <= one.start.date() <= AHEAD for one in recompute(lines[:FEWER]))
    spent, floor = best(lambda: recompute(lines), lambda: convert(lines))
    few, few_floor = best(lambda: recompute(lines[:FEWER]), lambda: convert(lines[:FEWER]))
    ratio, growth = spent / floor, (spent / floor) / (few / few_floor)

    profile = cProfile.Profile()
    profile.runcall(recompute, lines[:FEWER])
    stats = pstats.Stats(profile).stats  # type: ignore[attr-defined]  # missing from the stubs
    counted = sum(row[2] for row in stats.values())
    heaviest = sorted(((row[2] / counted, key[2]) for key, row in stats.items()), reverse=True)[:4]
    print(  # noqa: T201  # the figures are the point
        f"\n{LINES:,} lines: {spent:.2f} s, floor {floor:.2f} s, ratio {ratio:.1f};"
        f" ratio at {LINES:,} over ratio at {FEWER:,}: {growth:.2f};"
        f" heaviest: {', '.join(f'{name} {share:.0%}' for share, name in heaviest)}"
    )
    assert ratio < 25
    assert growth < 1.5
