"""Finding times for 77 lines of one manager, beside reading the same lines; and the gap to the best there is.

Measured as a manager meets it: everything from the rows to the proposals, with a calendar of five busy times
a day. All 77 lines are owed a meeting in the four weeks. The gap is the one the method computes from its
own dual, for an answer whose cost is counted anew. Run with -s to see the figures.
"""

from __future__ import annotations

import cProfile
import datetime as dt
import pstats
from time import perf_counter

import pytest

from accounts.models import Person
from oneonone.models import Interval, Line, Meeting
from oneonone.selectors.cadence import finding_times, lines_below
from oneonone.services.private import busy_times
from tests.bench.grow import grow
from tests.cast import make_person

NOW = dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC)
SIZES = (7, 30, 77)
TURNS = 3


def fill(lead: Person) -> None:
    """Make every line owe: no date is confirmed, and no interval is longer than four weeks."""
    Meeting.objects.coming().filter(line__manager=lead).update(confirmed_at=None)
    Interval.objects.filter(line__manager=lead).exclude(unit="weeks", every__lte=4).update(
        unit="weeks", every=4, weekday=3, day=None
    )
    Line.objects.filter(manager=lead, pauses__isnull=False).update(starts_on=NOW.date())
    for line in Line.objects.filter(manager=lead):
        line.pauses.all().delete()


def calendar(lead: Person) -> None:
    """Five half hours a day for four weeks, at different times of each day."""
    blocks = []
    for day in range(28):
        for n in range(5):
            begins = NOW.replace(hour=8) + dt.timedelta(days=day + 1, minutes=(n * 120 + day * 30) % 570)
            blocks.append((begins, begins + dt.timedelta(minutes=30)))
    busy_times.replace(blocks=sorted(blocks), actor=lead, now=NOW, today=NOW.date())


@pytest.mark.django_db
def test_times_for_seventy_seven_lines_are_found_while_one_waits() -> None:
    spent: dict[int, float] = {}
    for size in SIZES:
        lead = make_person(f"Head of {size}")
        grow(lead, size, now=NOW, span=size, seed=size)
        fill(lead)
        calendar(lead)
        seconds = []
        for _ in range(TURNS):
            began = perf_counter()
            found = finding_times.find(lead, now=NOW)
            seconds.append(perf_counter() - began)
        began = perf_counter()
        lines_below.below(lead, now=NOW, everyone=False)
        floor = perf_counter() - began
        spent[size] = min(seconds)
        print(  # noqa: T201  # the figures are the point
            f"\n{size} lines: {len(found.proposals)} times, {len(found.left)} without,"
            f" in {spent[size]:.2f} s ({spent[size] / floor:.0f} times reading the lines), gap {found.gap}"
        )
        assert found.gap == 0
        assert len(found.proposals) + len(found.left) == size
    profile = cProfile.Profile()
    profile.runcall(finding_times.find, lead, now=NOW)
    stats = pstats.Stats(profile).stats  # type: ignore[attr-defined]  # missing from the stubs
    counted = sum(row[2] for row in stats.values())
    heaviest = sorted(((row[2] / counted, key[2]) for key, row in stats.items()), reverse=True)[:5]
    print(", ".join(f"{name} {share:.0%}" for share, name in heaviest))  # noqa: T201
    assert spent[77] / floor < 200
