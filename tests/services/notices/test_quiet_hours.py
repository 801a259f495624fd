"""Quiet hours by a person's own clocks, across midnight and across a clock change."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.services.notices import quiet_hours


def person(begins: str, ends: str, zone: str = "Europe/London") -> Person:
    return Person(zone=zone, quiet_from=dt.time.fromisoformat(begins), quiet_to=dt.time.fromisoformat(ends))


def at(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("instant", "then"),
    [
        ("2026-11-25 19:59", "2026-11-25 19:59"),
        ("2026-11-25 20:00", "2026-11-26 07:00"),
        ("2026-11-25 23:59", "2026-11-26 07:00"),
        ("2026-11-26 00:00", "2026-11-26 07:00"),
        ("2026-11-26 06:59", "2026-11-26 07:00"),
        ("2026-11-26 07:00", "2026-11-26 07:00"),
    ],
)
def test_a_night_ends_in_the_morning(instant: str, then: str) -> None:
    reader = person("20:00", "07:00")
    assert quiet_hours.after_quiet(reader, at(instant)) == at(then)
    assert quiet_hours.is_quiet(reader, at(instant)) == (instant != then)


@pytest.mark.parametrize(
    ("instant", "then"),
    [
        ("2026-11-25 12:59", "2026-11-25 12:59"),
        ("2026-11-25 13:00", "2026-11-25 15:00"),
        ("2026-11-25 15:00", "2026-11-25 15:00"),
    ],
)
def test_quiet_hours_may_lie_within_a_day(instant: str, then: str) -> None:
    assert quiet_hours.after_quiet(person("13:00", "15:00"), at(instant)) == at(then)


def test_equal_ends_are_no_quiet_hours() -> None:
    reader = person("00:00", "00:00")
    assert not quiet_hours.is_quiet(reader, at("2026-11-25 03:00"))


def test_they_are_kept_by_the_persons_own_clocks() -> None:
    """22:00 in London is 06:00 of the next day in Singapore, eight hours ahead."""
    reader = person("20:00", "07:00", "Asia/Singapore")
    assert quiet_hours.after_quiet(reader, at("2026-11-25 22:00")) == at("2026-11-25 23:00")
    assert not quiet_hours.is_quiet(reader, at("2026-11-25 11:59"))


def test_seven_in_the_morning_stays_seven_when_the_clocks_change() -> None:
    """London leaves summer time on 25 October 2026 at 02:00 local time (tzdata)."""
    reader = person("20:00", "07:00")
    assert quiet_hours.after_quiet(reader, at("2026-10-23 22:00")) == at("2026-10-24 06:00")
    assert quiet_hours.after_quiet(reader, at("2026-10-24 22:00")) == at("2026-10-25 07:00")


def test_an_end_inside_the_repeated_hour_is_never_before_the_instant() -> None:
    """On 25 October 2026 in London 01:30 comes twice, at 00:30 and at 01:30 UTC."""
    reader = person("20:00", "01:30")
    second = at("2026-10-25 01:10")
    assert quiet_hours.is_quiet(reader, second)
    assert quiet_hours.after_quiet(reader, second) >= second
