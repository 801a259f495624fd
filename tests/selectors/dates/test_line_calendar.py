"""What the rows say about dates."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import DayAway, Person
from oneonone.models import ClosingDay, Line, Meeting
from oneonone.selectors.dates import line_calendar
from oneonone.services.meetings import coming_meetings, intervals, meetings
from tests.cast import queries
from tests.scene import STARTS, WEEKLY


def works(line: Line, day: dt.date) -> bool:
    return line_calendar.working_days(line, around=day).works(day)


def test_a_working_day_is_one_on_which_both_work(line: Line, manager: Person, report: Person) -> None:
    thursday, friday = dt.date(2026, 12, 3), dt.date(2026, 12, 4)
    assert works(line, thursday)
    DayAway.objects.create(person=report, first=thursday, last=thursday)
    manager.working_week = "1111000"
    manager.save(update_fields=["working_week"])
    line = Line.objects.get(pk=line.pk)
    assert not works(line, thursday)
    assert not works(line, friday)
    assert works(line, dt.date(2026, 12, 2))


def test_the_working_days_of_a_line_cost_two_queries(line: Line) -> None:
    with queries() as made:
        line_calendar.working_days(line, around=dt.date(2026, 12, 3))
    assert len(made) == 2


def test_days_on_which_the_organisation_is_closed_are_nobodys_working_days(line: Line) -> None:
    ClosingDay.objects.create(day=dt.date(2026, 12, 3))
    assert not works(line, dt.date(2026, 12, 3))


def test_public_holidays_are_those_of_each_persons_country(line: Line, report: Person) -> None:
    st_andrew = dt.date(2026, 11, 30)
    assert works(line, st_andrew)
    report.country, report.subdivision = "GB", "SCT"
    report.save(update_fields=["country", "subdivision"])
    assert not works(Line.objects.get(pk=line.pk), st_andrew)


def test_the_interval_in_force_is_the_last_that_has_begun_and_before_all_of_them_the_first(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    intervals.propose(line=line, terms=WEEKLY, actor=manager, now=now, today=now.date())
    rows = line_calendar.intervals_of(line)

    def every(day: dt.date) -> int:
        interval = line_calendar.in_force(rows, day)
        assert interval is not None
        return interval.every

    assert [every(day) for day in (dt.date(2026, 1, 1), dt.date(2026, 11, 24), now.date())] == [13, 13, 1]
    assert line_calendar.in_force([], now.date()) is None


def test_the_lines_own_days_of_notice_win_over_the_usual_ones(line: Line, meeting: Meeting) -> None:
    Line.objects.filter(pk=line.pk).update(issue_working_days=1, invite_working_days=5)
    line.refresh_from_db()
    coming_meetings.refresh(line=line, now=dt.datetime(2026, 9, 8, 9, 0, tzinfo=dt.UTC))
    meeting.refresh_from_db()
    assert meeting.issue_at == dt.datetime(2026, 12, 2, 12, 0, tzinfo=dt.UTC)
    assert meeting.invite_at == dt.datetime(2026, 11, 26, 9, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize("confirmed", [True, False])
def test_a_move_stays_before_the_next_date_of_the_grid(
    meeting: Meeting, manager: Person, now: dt.datetime, confirmed: bool
) -> None:
    if confirmed:
        meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    assert line_calendar.next_day(meeting) == dt.date(2027, 3, 4)


def test_an_extra_meeting_stays_before_the_regular_one(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    assert line_calendar.next_day(extra) == dt.date(2026, 12, 3)
    assert line_calendar.next_day(meeting) == dt.date(2027, 3, 4)


def test_a_local_day_is_told_by_the_zone_it_was_agreed_in() -> None:
    late = dt.datetime(2026, 12, 3, 23, 30, tzinfo=dt.UTC)
    assert line_calendar.local_day(late, "Europe/London") == dt.date(2026, 12, 3)
    assert line_calendar.local_day(late, "Europe/Helsinki") == dt.date(2026, 12, 4)
    assert line_calendar.local_day(STARTS, "Pacific/Honolulu") == dt.date(2026, 12, 3)
