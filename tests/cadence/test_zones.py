"""Local times across clock changes, in both hemispheres and by half an hour."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta, timezone

import pytest

from oneonone.cadence import (
    CadenceRefusal,
    UnknownZone,
    check_zone,
    clock_changes,
    end_of_day,
    local,
    start_instant,
    zone_names,
)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[arg-type, misc]  # year to minute


@pytest.mark.parametrize(
    ("zone", "day", "at", "instant"),
    [
        # RFC 5545, 3.3.5: a time that occurs twice is its first occurrence; a time that does not occur
        # is read with the offset before the gap.
        ("America/New_York", date(2007, 11, 4), time(1, 30), utc(2007, 11, 4, 5, 30)),
        ("America/New_York", date(2007, 3, 11), time(2, 30), utc(2007, 3, 11, 7, 30)),
        # The same rule elsewhere, computed. London, 28 March 2027: 01:30 becomes 02:30 BST.
        ("Europe/London", date(2027, 3, 28), time(1, 30), utc(2027, 3, 28, 1, 30)),
        ("Europe/London", date(2026, 10, 25), time(1, 30), utc(2026, 10, 25, 0, 30)),
        # South: Sydney goes forward on 4 October 2026 and back on 5 April 2026.
        ("Australia/Sydney", date(2026, 10, 4), time(2, 30), utc(2026, 10, 3, 16, 30)),
        ("Australia/Sydney", date(2026, 4, 5), time(2, 30), utc(2026, 4, 4, 15, 30)),
        # Half an hour: Lord Howe goes from +10:30 to +11 on 4 October 2026 and back on 5 April 2026.
        ("Australia/Lord_Howe", date(2026, 10, 4), time(2, 15), utc(2026, 10, 3, 15, 45)),
        ("Australia/Lord_Howe", date(2026, 4, 5), time(1, 45), utc(2026, 4, 4, 14, 45)),
        # Offsets that are no whole hour.
        ("Asia/Kathmandu", date(2026, 11, 25), time(9, 0), utc(2026, 11, 25, 3, 15)),
        ("UTC", date(2026, 11, 25), time(9, 0), utc(2026, 11, 25, 9, 0)),
    ],
)
def test_a_local_time_is_one_instant(zone: str, day: date, at: time, instant: datetime) -> None:
    assert start_instant(day, at, zone) == instant


def test_the_shift_out_of_a_gap_is_as_long_as_the_gap() -> None:
    shifted = local(
        start_instant(date(2026, 10, 4), time(2, 15), "Australia/Lord_Howe"), "Australia/Lord_Howe"
    )
    assert shifted.time() == time(2, 45)
    shifted = local(start_instant(date(2007, 3, 11), time(2, 30), "America/New_York"), "America/New_York")
    assert shifted.time() == time(3, 30)


def test_the_second_of_two_local_times_cannot_be_meant() -> None:
    asked = start_instant(date(2026, 10, 25), time(1, 30, fold=1), "Europe/London")
    assert asked == start_instant(date(2026, 10, 25), time(1, 30), "Europe/London")


def test_a_skipped_calendar_day_moves_to_the_next() -> None:
    # Samoa had no 30 December 2011 (IANA tz database, file australasia, Pacific/Apia).
    assert start_instant(date(2011, 12, 30), time(9), "Pacific/Apia") == start_instant(
        date(2011, 12, 31), time(9), "Pacific/Apia"
    )


@pytest.mark.parametrize(
    ("zone", "day"),
    [
        ("Europe/London", date(2026, 10, 25)),
        ("America/Havana", date(2026, 10, 31)),  # the hour from midnight comes twice on 1 November
        ("America/Santiago", date(2026, 4, 4)),  # the last hour of the day comes twice
        ("Africa/Cairo", date(2026, 4, 23)),  # the next day begins at 01:00
    ],
)
def test_the_last_minute_of_a_day_is_that_day_and_the_next_is_not(zone: str, day: date) -> None:
    end = end_of_day(day, zone)
    assert local(end, zone).date() == day
    assert local(end, zone).time().replace(fold=0) == time(23, 59)
    assert local(end + timedelta(minutes=1), zone).date() == day + timedelta(days=1)


def test_a_zone_that_nobody_keeps_is_refused_with_the_nearest_names() -> None:
    for typed, named in (
        ("Asia/Kathmandoo", "Asia/Kathmandu"),
        ("europe/paris", "Europe/Paris"),
        ("qqqq", "UTC"),
    ):
        with pytest.raises(UnknownZone) as refused:
            check_zone(typed)
        assert refused.value.field == "zone"
        assert named in refused.value.accepted


@pytest.mark.parametrize("name", ["", "America", "../etc/passwd", "Factory", "localtime", "europe/london"])
def test_what_is_no_place_is_refused(name: str) -> None:
    with pytest.raises(UnknownZone):
        check_zone(name)


def test_every_offered_zone_is_accepted_and_usable() -> None:
    assert len(zone_names()) > 400
    for name in zone_names():
        assert start_instant(date(2026, 11, 25), time(9), check_zone(name)).tzinfo is UTC


def test_times_with_an_offset_and_instants_without_one_are_refused() -> None:
    with pytest.raises(CadenceRefusal, match="time"):
        start_instant(date(2026, 11, 25), time(9, tzinfo=timezone(timedelta(hours=1))), "Europe/London")
    with pytest.raises(CadenceRefusal, match="instant"):
        local(datetime(2026, 11, 25, 9), "Europe/London")  # noqa: DTZ001  # that is what is refused


def test_clock_changes_of_a_year_to_the_minute() -> None:
    # gov.uk/when-do-the-clocks-change: 29 March and 25 October 2026, recalled from memory.
    assert clock_changes("Europe/London", date(2026, 1, 1), date(2027, 1, 1)) == (
        (utc(2026, 3, 29, 1, 0), timedelta(hours=1)),
        (utc(2026, 10, 25, 1, 0), timedelta(0)),
    )
    half_an_hour = [
        offset for _, offset in clock_changes("Australia/Lord_Howe", date(2026, 1, 1), date(2027, 1, 1))
    ]
    assert half_an_hour == [timedelta(hours=10, minutes=30), timedelta(hours=11)]
    assert clock_changes("Asia/Kathmandu", date(2026, 1, 1), date(2027, 1, 1)) == ()


@pytest.mark.parametrize(
    "zone", ["Europe/London", "America/New_York", "Australia/Lord_Howe", "Africa/Casablanca"]
)
def test_between_clock_changes_the_offset_is_the_same_in_every_minute_tried(zone: str) -> None:
    changes = clock_changes(zone, date(2026, 1, 1), date(2027, 1, 1))
    for instant, offset in changes:
        assert local(instant, zone).utcoffset() == offset
        assert local(instant - timedelta(minutes=1), zone).utcoffset() != offset


def test_zones_with_the_same_changes_place_meetings_alike() -> None:
    year = date(2026, 1, 1), date(2027, 1, 1)
    assert clock_changes("Europe/London", *year) == clock_changes("Europe/Lisbon", *year)
    assert clock_changes("Europe/London", *year) != clock_changes("Europe/Paris", *year)
