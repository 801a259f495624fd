"""What clocks do, kept and compared with what they do by another version of the database."""

from __future__ import annotations

import datetime as dt

import pytest

from oneonone.cadence import Clocks, differing, local

UTC = dt.UTC
HOUR = dt.timedelta(hours=1)
FIRST, UNTIL = dt.date(2026, 11, 23), dt.date(2029, 11, 23)
# The European Union's rule: last Sunday in March and in October, 01:00 UTC.
SPRING = [dt.datetime(y, 3, d, 1, tzinfo=UTC) for y, d in ((2027, 28), (2028, 26), (2029, 25))]
AUTUMN = [dt.datetime(y, 10, d, 1, tzinfo=UTC) for y, d in ((2027, 31), (2028, 29), (2029, 28))]


def london(changes: list[tuple[dt.datetime, dt.timedelta]] | None = None) -> Clocks:
    real = sorted([(when, HOUR) for when in SPRING] + [(when, 0 * HOUR) for when in AUTUMN])
    return Clocks(FIRST, UNTIL, 0 * HOUR, tuple(real if changes is None else changes))


def test_the_clocks_of_london_are_those_of_its_rule() -> None:
    assert Clocks.of("Europe/London", FIRST, UNTIL) == london()


@pytest.mark.parametrize(
    "zone", ["Europe/London", "Australia/Lord_Howe", "America/New_York", "Asia/Kathmandu"]
)
def test_local_times_are_those_of_the_database(zone: str) -> None:
    """Lord Howe changes by half an hour, Kathmandu lies at 5:45 and changes never."""
    clocks = Clocks.of(zone, FIRST, UNTIL)
    for hours in range(0, 24 * 1090, 7):
        instant = dt.datetime(2026, 11, 23, tzinfo=UTC) + hours * HOUR
        assert clocks.local(instant) == local(instant, zone).replace(tzinfo=None)


def test_the_same_rules_differ_nowhere() -> None:
    assert differing(london(), london()) == ()


def test_summer_time_given_up_differs_in_the_summers() -> None:
    winter = london([])
    assert differing(london(), winter) == tuple(zip(SPRING, AUTUMN, strict=True))


def test_a_change_a_week_later_differs_for_a_week() -> None:
    week = dt.timedelta(weeks=1)
    moved = [(when + week if when == AUTUMN[0] else when, offset) for when, offset in london().changes]
    assert differing(london(), london(moved)) == ((AUTUMN[0], AUTUMN[0] + week),)


def test_only_the_days_that_both_cover_are_compared() -> None:
    other = Clocks(dt.date(2027, 7, 1), dt.date(2028, 1, 1), 0 * HOUR, ())
    assert differing(london(), other) == ((dt.datetime(2027, 7, 1, tzinfo=UTC), AUTUMN[0]),)
    later = Clocks(dt.date(2031, 7, 1), dt.date(2032, 1, 1), HOUR, ())
    assert differing(london(), later) == ()
