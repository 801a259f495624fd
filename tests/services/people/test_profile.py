"""What people change about themselves moves the meetings that are still loose, and no other."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from accounts.models import DayAway, Person
from accounts.services import people
from oneonone.models import AuditEvent, Line, Meeting
from oneonone.services.people import profile

THURSDAY = dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)
FRIDAY = dt.datetime(2026, 12, 4, 10, 0, tzinfo=dt.UTC)


def profile_of(person: Person, **changed: Any) -> people.Profile:
    kept: dict[str, Any] = {
        "name": person.name,
        "zone": person.zone,
        "working_week": person.working_week,
        "country": person.country,
        "subdivision": person.subdivision,
        "wants_mail": person.wants_mail,
        "single_keys": person.single_keys,
        "quiet_from": person.quiet_from,
        "quiet_to": person.quiet_to,
    }
    return people.Profile(**(kept | changed))


@pytest.fixture
def loose(line: Line) -> Meeting:
    """The meeting of Thursday 3 December that only the interval made."""
    meeting: Meeting = line.meetings.get()
    assert meeting.starts_at == THURSDAY
    Meeting.objects.filter(pk=meeting.pk).update(invited_at=None, confirmed_at=None)
    return meeting


def test_a_week_without_thursdays_moves_a_loose_meeting_to_the_next_day(
    loose: Meeting, report: Person, now: dt.datetime
) -> None:
    changed = profile.change(actor=report, profile=profile_of(report, working_week="1110100"), now=now)
    assert changed == ["working_week"]
    loose.refresh_from_db()
    assert loose.starts_at == FRIDAY


def test_a_meeting_that_was_invited_to_keeps_its_day(
    loose: Meeting, report: Person, now: dt.datetime
) -> None:
    Meeting.objects.filter(pk=loose.pk).update(invited_at=now)
    profile.change(actor=report, profile=profile_of(report, working_week="1110100"), now=now)
    loose.refresh_from_db()
    assert loose.starts_at == THURSDAY


def test_a_new_name_moves_nothing(loose: Meeting, report: Person, now: dt.datetime) -> None:
    before = loose.seq
    assert profile.change(actor=report, profile=profile_of(report, name="Tomas L."), now=now) == ["name"]
    loose.refresh_from_db()
    assert (loose.starts_at, loose.seq) == (THURSDAY, before)


def test_days_away_move_a_loose_meeting_and_taking_them_back_returns_it(
    loose: Meeting, report: Person, now: dt.datetime
) -> None:
    day = dt.date(2026, 12, 3)
    away = profile.add_days_away(actor=report, first=day, last=day, now=now)
    loose.refresh_from_db()
    assert loose.starts_at == FRIDAY
    profile.remove_days_away(actor=report, days_away=away, now=now)
    loose.refresh_from_db()
    assert loose.starts_at == THURSDAY


def test_a_refusal_changes_neither_the_person_nor_the_meeting(
    loose: Meeting, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(people.UnknownZone):
        profile.change(actor=report, profile=profile_of(report, zone="x", working_week="1110100"), now=now)
    loose.refresh_from_db()
    report.refresh_from_db()
    assert (loose.starts_at, report.working_week) == (THURSDAY, "1111100")
    assert not DayAway.objects.exists()
    assert not AuditEvent.objects.filter(act="profile changed").exists()
