"""The steps of a meeting's cycle: which day, which time, and in which order."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import (
    CadenceRefusal,
    InvalidNotice,
    Notice,
    Rule,
    WorkingDays,
    instants,
    is_quiet,
    local,
    start_instant,
    today_instant,
)
from tests.cadence.strategies import days, times, unhurried, working_days, zones

QUARTERLY = Notice.defaults_for(Rule(13, "weeks", date(2026, 1, 1)))
FORTNIGHTLY = Notice.defaults_for(Rule(2, "weeks", date(2026, 1, 1)))
WEEKDAYS = WorkingDays()


def utc(month: int, day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, month, day, hour, minute, tzinfo=UTC)


def test_defaults_by_interval() -> None:
    assert Notice(10, 3, 1, 2) == QUARTERLY
    assert Notice(3, 1, 0, 1) == FORTNIGHTLY
    assert Notice.defaults_for(Rule(4, "weeks", date(2026, 1, 1))) == QUARTERLY
    assert Notice.defaults_for(Rule(1, "months", date(2026, 1, 1))) == QUARTERLY
    assert Notice.defaults_for(Rule(1, "months", date(2026, 1, 1), day=1, second_day=15)) == FORTNIGHTLY


def test_four_weeks_or_more_across_a_clock_change() -> None:
    # Wednesday 28 October; clocks went back on Sunday 25 October.
    found = instants(date(2026, 10, 28), time(10), "Europe/London", 60, WEEKDAYS, QUARTERLY)
    assert (found.start, found.end) == (utc(10, 28, 10), utc(10, 28, 11))
    assert found.invite == utc(10, 14, 8)  # 10 working days before, 09:00 British summer time
    assert found.issue == utc(10, 23, 11)  # 3 working days before, noon
    assert found.prepare_by == utc(10, 27, 23, 59)
    assert found.today == utc(10, 28, 8)
    assert found.record == utc(10, 30, 12)


def test_shorter_intervals() -> None:
    found = instants(date(2026, 11, 30), time(9, 30), "Europe/London", 30, WEEKDAYS, FORTNIGHTLY)
    assert found.invite == utc(11, 25, 9)
    assert found.issue == utc(11, 27, 12)  # the Friday before the Monday
    assert found.prepare_by == found.start == utc(11, 30, 9, 30)
    assert found.today == utc(11, 30, 7, 30)
    assert found.record == utc(12, 1, 12)


def test_holidays_and_days_away_lengthen_the_notice() -> None:
    days = WorkingDays(country="GB", subdivision="ENG", away=((date(2026, 12, 29), date(2026, 12, 30)),))
    found = instants(date(2027, 1, 4), time(10), "Europe/London", 60, days, FORTNIGHTLY)
    assert found.issue == utc(12, 31, 12)
    assert found.invite == utc(12, 23, 9)


@pytest.mark.parametrize(
    ("start", "reminder"),
    [
        (utc(11, 25, 14), utc(11, 25, 8)),
        (utc(11, 25, 10), utc(11, 25, 8)),
        (utc(11, 25, 9, 59), utc(11, 25, 7, 59)),
        (utc(11, 25, 9), utc(11, 25, 7)),  # quiet hours end at 07:00
        (utc(11, 25, 8, 59), utc(11, 24, 19, 59)),  # they hold 06:59: the evening before
        (utc(11, 25, 0, 30), utc(11, 24, 19, 59)),
        (utc(11, 25, 23), utc(11, 25, 8)),
    ],
)
def test_the_reminder_of_the_day(start: datetime, reminder: datetime) -> None:
    assert today_instant(start, "Europe/London") == reminder


@pytest.mark.parametrize(
    ("quiet", "reminder"),
    [
        ((time(0), time(9)), utc(11, 24, 23, 59)),  # hours that begin at midnight
        ((time(7), time(9)), utc(11, 25, 6, 59)),  # hours of one morning
        ((time(0), time(0)), utc(11, 25, 8)),  # none
        ((time(22), time(8)), utc(11, 25, 8)),
        ((time(22), time(8, 1)), utc(11, 24, 21, 59)),
    ],
)
def test_quiet_hours_of_ones_own(quiet: tuple[time, time], reminder: datetime) -> None:
    assert today_instant(utc(11, 25, 12), "Europe/London", quiet) == reminder


def test_one_who_moved_to_another_zone_keeps_the_meeting_and_gets_the_reminder_by_their_own_clocks() -> None:
    # Agreed for 14:00 in London. New York is 5 hours behind, and 4 while only London has changed its clocks.
    day_by_day = {date(2026, 10, 21): 9, date(2026, 10, 28): 10, date(2026, 11, 4): 9}
    for day, hour in day_by_day.items():
        start = start_instant(day, time(14), "Europe/London")
        assert local(start, "America/New_York").time() == time(hour)
    start = start_instant(date(2026, 11, 4), time(14), "Europe/London")
    assert today_instant(start, "Europe/London") == utc(11, 4, 8)
    assert local(today_instant(start, "America/New_York"), "America/New_York").time() == time(7)


def test_both_agreeing_on_another_zone_keeps_the_local_time() -> None:
    before = instants(date(2026, 11, 4), time(9), "Europe/London", 30, WEEKDAYS, FORTNIGHTLY)
    after = instants(date(2026, 11, 4), time(9), "America/New_York", 30, WEEKDAYS, FORTNIGHTLY)
    for one, other in zip(vars(before).values(), vars(after).values(), strict=True):
        assert local(one, "Europe/London").replace(tzinfo=None) == local(other, "America/New_York").replace(
            tzinfo=None
        )
    assert after.start - before.start == timedelta(hours=5)
    assert after.invite - before.invite == timedelta(
        hours=4
    )  # 30 October: only London has changed its clocks


def test_a_start_that_does_not_exist_moves_forward_and_ends_later() -> None:
    # London, Sunday 28 March 2027: 01:30 is skipped.
    everyday = WorkingDays(frozenset(range(1, 8)))
    found = instants(date(2027, 3, 28), time(1, 30), "Europe/London", 30, everyday, FORTNIGHTLY)
    assert local(found.start, "Europe/London").time() == time(2, 30)
    assert local(found.end, "Europe/London").time() == time(3)


def test_zero_working_days_are_never_later_than_the_start_and_never_earlier_than_the_end() -> None:
    found = instants(date(2026, 11, 25), time(8), "UTC", 60, WEEKDAYS, Notice(0, 0, 0, 0))
    assert found.invite == found.issue == found.prepare_by == found.start
    late = instants(date(2026, 11, 25), time(15), "UTC", 60, WEEKDAYS, Notice(0, 0, 0, 0))
    assert (late.invite, late.issue) == (utc(11, 25, 9), utc(11, 25, 12))
    assert late.record == late.end


@st.composite
def notices(draw: st.DrawFn) -> Notice:
    prepare, issue, invite = sorted(draw(st.integers(0, 15)) for _ in range(3))
    return Notice(invite, issue, prepare, draw(st.integers(0, 5)))


QUIET = st.tuples(times, times)


@unhurried
@given(days, times, zones, st.integers(1, 480), st.data(), notices(), QUIET)
def test_steps_come_in_order_and_the_reminder_never_in_quiet_hours(
    day: date,
    at: time,
    zone: str,
    minutes: int,
    data: st.DataObject,
    notice: Notice,
    quiet: tuple[time, time],
) -> None:
    person = data.draw(working_days(day))
    found = instants(day, at, zone, minutes, person, notice, quiet)
    assert found.invite <= found.issue <= found.prepare_by <= found.start < found.end <= found.record
    assert found.end - found.start == timedelta(minutes=minutes)
    assert found.today <= found.start - timedelta(hours=2)
    assert not is_quiet(local(found.today, zone).time(), quiet)
    assert all(step.utcoffset() == timedelta(0) for step in vars(found).values())
    assert found == instants(day, at, zone, minutes, person, notice, quiet)


@unhurried
@given(days, times, zones, st.data(), notices())
def test_every_counted_step_falls_on_a_day_both_work(
    day: date, at: time, zone: str, data: st.DataObject, notice: Notice
) -> None:
    person = data.draw(working_days(day))
    found = instants(day, at, zone, 30, person, notice)
    counted = {
        "invite": notice.invite_working_days,
        "issue": notice.issue_working_days,
        "prepare_by": notice.prepare_working_days,
        "record": notice.record_working_days,
    }
    for step, working_days_away in counted.items():
        there = local(getattr(found, step), zone).date()
        if working_days_away and there != local(found.start, zone).date():
            assert person.works(there), step


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"invite_working_days": 2}, "invite_working_days"),
        ({"issue_working_days": 0}, "issue_working_days"),
        ({"prepare_working_days": -1}, "prepare_working_days"),
        ({"record_working_days": -1}, "record_working_days"),
        ({"record_working_days": 61}, "record_working_days"),
        ({"invite_working_days": 61}, "invite_working_days"),
    ],
)
def test_notice_in_the_wrong_order_or_out_of_reach_is_refused_by_field(
    fields: dict[str, Any], field: str
) -> None:
    with pytest.raises(InvalidNotice) as refused:
        Notice(**vars(QUARTERLY) | fields)
    assert refused.value.field == field
    assert refused.value.accepted


@pytest.mark.parametrize("minutes", [0, -5, 481])
def test_a_length_that_is_none_is_refused(minutes: int) -> None:
    with pytest.raises(CadenceRefusal) as refused:
        instants(date(2026, 11, 25), time(9), "UTC", minutes, WEEKDAYS, FORTNIGHTLY)
    assert (refused.value.field, refused.value.accepted) == ("minutes", "1 to 480")
