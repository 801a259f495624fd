"""The day before a date, by the owner's working week, days away and zone."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import DayAway, Person
from oneonone.services.commitments import reminder_times

pytestmark = pytest.mark.django_db


def utc(day: int, hour: int = 0) -> dt.datetime:
    return dt.datetime(2026, 12, day, hour, tzinfo=dt.UTC)


def test_it_is_the_start_of_the_last_working_day_before(manager: Person, now: dt.datetime) -> None:
    assert reminder_times.before_date(manager, dt.date(2026, 12, 10), now=now) == utc(9)
    assert reminder_times.before_date(manager, dt.date(2026, 12, 14), now=now) == utc(11)


def test_days_away_and_days_off_are_skipped(manager: Person, now: dt.datetime) -> None:
    DayAway.objects.create(person=manager, first=dt.date(2026, 12, 8), last=dt.date(2026, 12, 9))
    assert reminder_times.before_date(manager, dt.date(2026, 12, 10), now=now) == utc(7)
    manager.working_week = "0111100"
    assert reminder_times.before_date(manager, dt.date(2026, 12, 10), now=now) == utc(4)


def test_the_day_begins_where_the_owner_is(manager: Person, now: dt.datetime) -> None:
    manager.zone = "Asia/Singapore"
    assert reminder_times.before_date(manager, dt.date(2026, 12, 10), now=now) == utc(8, 16)


def test_what_is_taken_on_today_for_tomorrow_needs_no_reminder(manager: Person, now: dt.datetime) -> None:
    assert reminder_times.before_date(manager, dt.date(2026, 11, 26), now=now) is None
    assert reminder_times.before_date(manager, now.date(), now=now) is None


def test_nobody_is_reminded_before_they_have_joined(now: dt.datetime) -> None:
    assert reminder_times.before_date(None, dt.date(2026, 12, 10), now=now) is None
