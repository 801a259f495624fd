"""The clock of the demo, moved on: what falls due on the way is done, once, and counted."""

from __future__ import annotations

import datetime as dt

import pytest
from pytest_django import Settings

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Meeting, Notice
from oneonone.selectors.notices import due_instants
from oneonone.services.meetings import meetings
from tasks import demo
from tests.scene import STARTS, Brought, TakenOn, coming_of


def test_a_day_is_a_day(line: Line, held_clock: dt.datetime) -> None:
    moved = demo.move_on("day")
    assert moved.now == clock.now() == held_clock + dt.timedelta(days=1)


def test_the_next_event_is_the_issue_of_the_order(
    meeting: Meeting, brought: Brought, held_clock: dt.datetime
) -> None:
    moved = demo.move_on("event")
    meeting.refresh_from_db()
    assert moved.now == dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)
    assert (meeting.state, moved.fell.orders) == (Meeting.State.ISSUED, 1)
    assert moved.fell.notices[Notice.Kind.ISSUED] == 2


def test_then_come_the_reminders_to_prepare_and_of_the_day(
    meeting: Meeting, brought: Brought, held_clock: dt.datetime
) -> None:
    demo.move_on("event")
    moved = demo.move_on("event")
    assert moved.now == dt.datetime(2026, 12, 1, 23, 59, tzinfo=dt.UTC)
    assert moved.fell.notices == {Notice.Kind.PREPARE: 2}
    moved = demo.move_on("event")
    assert moved.now == dt.datetime(2026, 12, 3, 8, 0, tzinfo=dt.UTC)
    assert moved.fell.notices == {Notice.Kind.TODAY: 2}


def test_what_was_due_before_the_step_is_done_and_not_counted(
    meeting: Meeting, held_clock: dt.datetime
) -> None:
    # The invitation was due on 19 November.
    moved = demo.move_on("day")
    assert Notice.objects.filter(kind=Notice.Kind.INVITE).count() == 2
    assert moved.fell.notices == {}


def test_a_week_holds_everything_on_the_way_at_its_own_time(
    meeting: Meeting, brought: Brought, held_clock: dt.datetime
) -> None:
    moved = demo.move_on("week")
    meeting.refresh_from_db()
    assert meeting.issued_at == dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)
    assert moved.now == dt.datetime(2026, 12, 2, 10, 0, tzinfo=dt.UTC)
    demo.move_on("week")
    assert Notice.objects.filter(kind=Notice.Kind.TODAY, owed_at__lt=STARTS).count() == 2
    assert Notice.objects.filter(kind=Notice.Kind.UNANSWERED).count() == 2


def test_commitments_are_carried_after_a_meeting_is_closed(
    closed_meeting: Meeting, taken_on: TakenOn
) -> None:
    demo.move_on("day")
    assert taken_on.managers.carries.get().from_meeting == closed_meeting


def test_with_nothing_in_sight_the_clock_stays_and_says_so(db: None, held_clock: dt.datetime) -> None:
    moved = demo.move_on("event")
    assert moved.fell.nothing
    assert moved.now == held_clock


def test_another_step_is_refused(held_clock: dt.datetime, db: None) -> None:
    with pytest.raises(KeyError):
        demo.move_on("year")


def test_a_real_clock_is_not_moved(line: Line, settings: Settings, now: dt.datetime) -> None:
    settings.CLOCK_FILE = None
    with pytest.raises(clock.ClockIsReal):
        demo.move_on("day")


def test_instants_are_looked_for_on_open_lines_and_ahead_only(
    meeting: Meeting, former_line: Line, manager: Person, now: dt.datetime
) -> None:
    assert due_instants.next_instant(now) == meeting.issue_at
    meetings.start(meeting=meeting, actor=manager, now=STARTS)
    assert due_instants.next_instant(STARTS) == STARTS + dt.timedelta(days=1)


def test_five_minutes_are_five_minutes(line: Line, held_clock: dt.datetime) -> None:
    assert demo.move_on("minutes").now == clock.now() == held_clock + dt.timedelta(minutes=5)


def test_the_clock_stops_as_the_readers_next_meeting_should_begin(
    meeting: Meeting, other_line: Line, report: Person, manager: Person, held_clock: dt.datetime
) -> None:
    sooner = dt.datetime(2026, 12, 1, 9, 0, tzinfo=dt.UTC)
    meetings.move(meeting=coming_of(other_line), starts_at=sooner, actor=manager, now=held_clock)
    assert demo.move_on("meeting", reader=report).now == clock.now() == STARTS
    meeting.refresh_from_db()
    # On the way everything has happened at its time.
    assert meeting.issued_at == dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)


def test_without_a_meeting_of_the_readers_it_is_the_next_of_anybody(
    meeting: Meeting, outsider: Person, held_clock: dt.datetime
) -> None:
    assert demo.move_on("meeting", reader=outsider).now == STARTS


def test_without_any_meeting_the_clock_stays(outsider: Person, held_clock: dt.datetime) -> None:
    assert demo.move_on("meeting").now == held_clock
