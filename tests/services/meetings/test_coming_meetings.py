"""The next meeting of a line: made by itself, kept in step, skipped and paused."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from accounts.models import DayAway, Person
from oneonone.models import Line, Meeting
from oneonone.selectors.dates import line_calendar, move_options
from oneonone.services.lines import lines
from oneonone.services.meetings import coming_meetings, intervals, meetings
from oneonone.services.people import profile
from oneonone.services.refusals import NotNow
from tests.scene import MADE, QUARTERLY, STARTS, WEEKLY, coming_of, make_line, make_topic, placement_of


def away(person: Person, first: dt.date, last: dt.date) -> None:
    DayAway.objects.create(person=person, first=first, last=last)


def test_the_instants_of_a_quarterly_meeting_are_counted_in_working_days(meeting: Meeting) -> None:
    # Ten, three and one working days before Thursday 3 December, and two after; no holiday lies between.
    assert meeting.invite_at == dt.datetime(2026, 11, 19, 9, 0, tzinfo=dt.UTC)
    assert meeting.issue_at == dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)
    assert meeting.prepare_by_at == dt.datetime(2026, 12, 2, 23, 59, tzinfo=dt.UTC)
    assert meeting.today_at == dt.datetime(2026, 12, 3, 8, 0, tzinfo=dt.UTC)
    assert meeting.record_at == dt.datetime(2026, 12, 7, 12, 0, tzinfo=dt.UTC)


def test_a_weekly_meeting_has_the_shorter_notice(manager: Person, report: Person) -> None:
    weekly = coming_of(make_line(manager, report, terms=WEEKLY))
    assert weekly.invite_at == dt.datetime(2026, 11, 27, 9, 0, tzinfo=dt.UTC)
    assert weekly.issue_at == dt.datetime(2026, 12, 1, 12, 0, tzinfo=dt.UTC)
    assert weekly.prepare_by_at == weekly.starts_at


def test_ten_in_london_stays_ten_in_summer(manager: Person, report: Person) -> None:
    summer = replace(QUARTERLY, anchor=dt.date(2027, 6, 3))
    assert coming_of(make_line(manager, report, terms=summer)).starts_at == dt.datetime(
        2027, 6, 3, 9, 0, tzinfo=dt.UTC
    )


def test_a_date_on_which_one_is_away_moves_to_the_first_later_day(manager: Person, report: Person) -> None:
    away(report, dt.date(2026, 12, 2), dt.date(2026, 12, 4))
    meeting = coming_of(make_line(manager, report))
    assert meeting.nominal_date == dt.date(2026, 12, 3)
    assert line_calendar.local_day(meeting.starts_at, meeting.zone) == dt.date(2026, 12, 7)


def test_a_date_both_are_away_for_until_the_next_one_is_skipped(manager: Person, report: Person) -> None:
    away(manager, dt.date(2026, 11, 30), dt.date(2026, 12, 9))
    meeting = coming_of(make_line(manager, report, terms=WEEKLY))
    assert meeting.nominal_date == dt.date(2026, 12, 9)
    assert line_calendar.local_day(meeting.starts_at, meeting.zone) == dt.date(2026, 12, 10)


def test_holidays_of_one_side_move_the_date(manager: Person, report: Person) -> None:
    report.country, report.subdivision = "GB", "SCT"
    report.save(update_fields=["country", "subdivision"])
    # Friday 1 January and, in Scotland, Monday 4 January 2027 in place of Saturday the 2nd.
    new_year = replace(WEEKLY, weekday=5, anchor=dt.date(2027, 1, 1), every=2)
    meeting = coming_of(make_line(manager, report, terms=new_year))
    assert line_calendar.local_day(meeting.starts_at, meeting.zone) == dt.date(2027, 1, 5)


def test_days_away_move_a_meeting_nobody_has_confirmed_and_raise_its_calendar_sequence(
    line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    away(report, dt.date(2026, 12, 3), dt.date(2026, 12, 3))
    coming_meetings.refresh_lines_of(person=report, now=now)
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 4, 10, 0, tzinfo=dt.UTC)
    assert meeting.issue_at == dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)
    assert (meeting.schedule_version, meeting.calendar_sequence) == (2, 1)


def test_a_date_that_nobody_confirmed_is_skipped_once_both_are_away_for_it_and_comes_back(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    line = make_line(manager, report, terms=WEEKLY)
    meeting, topic = coming_of(line), make_topic(line, report)
    days = profile.add_days_away(
        actor=report, first=dt.date(2026, 11, 30), last=dt.date(2026, 12, 11), now=now
    )
    meeting.refresh_from_db()
    # Neither on the 2nd nor before the 9th do both work; of the 9th's week Monday 14 December is left.
    assert meeting.nominal_date == dt.date(2026, 12, 9)
    assert meeting.occurrence_key == f"{meeting.interval_id}:2026-12-09"
    assert meeting.starts_at == dt.datetime(2026, 12, 14, 10, 0, tzinfo=dt.UTC)
    assert [row.state for row in line.meetings.all()] == [Meeting.State.PLANNED]
    assert placement_of(topic).meeting == meeting
    profile.remove_days_away(actor=report, days_away=days, now=now)
    meeting.refresh_from_db()
    assert (meeting.nominal_date, meeting.starts_at.date()) == (dt.date(2026, 12, 2), dt.date(2026, 12, 2))


def test_a_date_that_was_called_off_does_not_come_back_with_the_days(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    following = meetings.call_off(meeting=meeting, actor=manager, now=now)
    assert following is not None
    days = profile.add_days_away(actor=report, first=dt.date(2027, 3, 4), last=dt.date(2027, 3, 4), now=now)
    following.refresh_from_db()
    assert following.starts_at.date() == dt.date(2027, 3, 5)
    profile.remove_days_away(actor=report, days_away=days, now=now)
    following.refresh_from_db()
    assert (following.nominal_date, following.starts_at.date()) == (dt.date(2027, 3, 4), dt.date(2027, 3, 4))


def test_instants_that_change_alone_raise_nothing_a_calendar_shows(
    line: Line, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    away(report, dt.date(2026, 11, 27), dt.date(2026, 11, 30))
    coming_meetings.refresh_lines_of(person=report, now=now)
    meeting.refresh_from_db()
    assert (meeting.starts_at, meeting.schedule_version) == (STARTS, 1)
    assert meeting.issue_at == dt.datetime(2026, 11, 26, 12, 0, tzinfo=dt.UTC)


def test_days_away_entered_after_the_invitation_move_nothing(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    away(report, dt.date(2026, 12, 3), dt.date(2026, 12, 3))
    coming_meetings.refresh_lines_of(person=report, now=now)
    meeting.refresh_from_db()
    assert meeting.starts_at == STARTS


def test_a_meeting_moved_by_hand_keeps_its_day(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    to = dt.datetime(2026, 12, 8, 14, 30, tzinfo=dt.UTC)
    meetings.move(meeting=meeting, starts_at=to, actor=manager, now=now)
    away(report, dt.date(2026, 12, 8), dt.date(2026, 12, 8))
    coming_meetings.refresh_lines_of(person=report, now=now)
    meeting.refresh_from_db()
    assert meeting.starts_at == to


def test_the_next_meeting_is_made_when_the_present_one_has_begun_its_time(
    line: Line, meeting: Meeting
) -> None:
    following = coming_meetings.ensure(line=line, now=STARTS)
    assert following is not None
    assert following.starts_at == dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)
    assert following.occurrence_key == f"{meeting.interval_id}:2027-03-04"


def test_a_date_called_off_is_not_made_again(line: Line, meeting: Meeting, manager: Person) -> None:
    following = meetings.call_off(meeting=meeting, actor=manager, now=MADE)
    assert following is not None
    assert coming_meetings.ensure(line=line, now=MADE) == following


def test_a_date_moved_forward_is_not_made_again_by_the_same_grid(
    line: Line, meeting: Meeting, manager: Person
) -> None:
    sooner = dt.datetime(2026, 9, 14, 9, 0, tzinfo=dt.UTC)
    meetings.move(meeting=meeting, starts_at=sooner, actor=manager, now=MADE)
    meetings.start(meeting=meeting, actor=manager, now=sooner)
    meetings.close(meeting=meeting, actor=manager, now=sooner + dt.timedelta(minutes=50))
    assert coming_of(line).starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)


def test_the_date_a_new_interval_gives_is_the_one_said_before_calling_off(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    intervals.propose(line=line, terms=WEEKLY, actor=manager, now=now, today=now.date())
    said = move_options.if_called_off(meeting, now=now).following
    made = meetings.call_off(meeting=meeting, actor=manager, now=now)
    assert made is not None
    assert said == line_calendar.local_day(made.starts_at, made.zone) == dt.date(2026, 12, 9)


def test_a_meeting_begun_meanwhile_is_not_taken_off_the_calendar(
    line: Line, meeting: Meeting, manager: Person
) -> None:
    read = Meeting.objects.select_related("line").get(pk=meeting.pk)
    meetings.start(meeting=meeting, actor=manager, now=STARTS)
    with pytest.raises(NotNow):
        coming_meetings.rest(meeting=read, actor=manager, now=STARTS)


def test_instants_computed_for_a_start_that_was_moved_meanwhile_are_not_kept(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    read = Meeting.objects.select_related("line", "interval").get(pk=meeting.pk)
    instants = coming_meetings.instants_at(read, day=dt.date(2026, 12, 4), time=dt.time(10))
    to = dt.datetime(2026, 12, 10, 15, 0, tzinfo=dt.UTC)
    meetings.move(meeting=meeting, starts_at=to, actor=manager, now=now)
    coming_meetings.write_instants(read, instants, now=now)
    meeting.refresh_from_db()
    assert (meeting.starts_at, meeting.schedule_version) == (to, 2)


def test_a_line_paused_without_an_end_gets_no_meeting(line: Line, manager: Person, now: dt.datetime) -> None:
    lines.pause(line=line, first=now.date(), last=None, actor=manager, now=now, today=now.date())
    assert coming_meetings.ensure(line=line, now=now) is None


def test_an_ended_line_gets_no_meeting(former_line: Line, now: dt.datetime) -> None:
    assert coming_meetings.ensure(line=former_line, now=now) is None


def test_the_steps_of_an_extra_meeting_follow_the_working_days_too(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    """Three working days before Thursday 17 December: the 14th, and with the 15th and 16th off the 10th."""
    extra = meetings.extra(
        line=line, day=dt.date(2026, 12, 17), time=dt.time(15, 0), minutes=30, actor=manager, now=now
    )
    assert extra.issue_at == dt.datetime(2026, 12, 14, 12, 0, tzinfo=dt.UTC)
    profile.add_days_away(actor=report, first=dt.date(2026, 12, 15), last=dt.date(2026, 12, 16), now=now)
    extra.refresh_from_db()
    assert extra.issue_at == dt.datetime(2026, 12, 10, 12, 0, tzinfo=dt.UTC)
    assert extra.starts_at == dt.datetime(2026, 12, 17, 15, 0, tzinfo=dt.UTC)


def test_the_first_day_of_a_line_can_be_the_day_of_its_first_meeting(manager: Person, report: Person) -> None:
    """Made at 10:00 for 11:00 the same day, as its interval says."""
    terms = replace(QUARTERLY, time=dt.time(11), anchor=MADE.date(), weekday=MADE.isoweekday())
    assert coming_of(make_line(manager, report, terms=terms)).nominal_date == MADE.date()
