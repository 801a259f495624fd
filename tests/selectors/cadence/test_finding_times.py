"""Times for what a manager owes: every interval kept, nothing overlapped, both at work, nothing better."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import pytest

from accounts.models import DayAway, Person
from oneonone import cadence
from oneonone.models import Line, Meeting
from oneonone.selectors.cadence import finding_times
from oneonone.selectors.dates import line_calendar, occupied_times
from oneonone.services.meetings import coming_meetings, meetings
from oneonone.services.private import busy_times
from tests.bench.grow import grow
from tests.cast import make_person, queries
from tests.scene import QUARTERLY, coming_of, make_line

UTC = dt.UTC
DAY = dt.date


def coming_after(line: Line, day: dt.date, now: dt.datetime) -> Meeting:
    """The line's coming meeting, as if its dates up to a day had been passed over."""
    made = coming_meetings.ensure(line=line, now=dt.datetime.combine(day, dt.time(12), tzinfo=UTC))
    assert made is not None
    return made


def test_the_agreed_time_is_proposed_where_nothing_is_against_it(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    """Thirteen weeks from 7 September end on 7 December; the date by interval is the 3rd."""
    found = finding_times.find(manager, now=now)
    (one,) = found.proposals
    assert (one.starts_at, one.reason, one.is_present) == (meeting.starts_at, "as agreed", True)
    assert (one.day, one.time, one.due) == (DAY(2026, 12, 3), dt.time(10), DAY(2026, 12, 7))
    assert (found.left, found.gap, found.horizon) == ((), 0, DAY(2026, 12, 23))


def test_two_at_the_same_time_are_parted(
    line: Line, peer_line: Line, manager: Person, now: dt.datetime
) -> None:
    one, other = finding_times.find(manager, now=now).proposals
    assert other.starts_at >= one.starts_at + dt.timedelta(minutes=one.minutes)
    assert {"as agreed"} < {one.reason, other.reason}


def test_a_confirmed_date_in_time_owes_nothing_and_is_kept_clear(
    line: Line, peer_line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    (one,) = finding_times.find(manager, now=now).proposals
    assert one.report == "Maja Ferreira"
    ends = meeting.starts_at + dt.timedelta(minutes=50)
    assert one.starts_at >= ends or one.starts_at + dt.timedelta(minutes=50) <= meeting.starts_at


def test_busy_times_of_the_managers_calendar_are_kept_clear(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    busy = (dt.datetime(2026, 12, 3, 9, 30, tzinfo=UTC), dt.datetime(2026, 12, 3, 12, 0, tzinfo=UTC))
    busy_times.replace(blocks=[busy], actor=manager, now=now, today=now.date())
    (one,) = finding_times.find(manager, now=now).proposals
    assert (one.reason, one.obstacle) == ("other time", "busy")
    assert one.day == DAY(2026, 12, 3)
    assert one.starts_at >= busy[1] or one.starts_at + dt.timedelta(minutes=50) <= busy[0]


def test_the_reports_calendar_is_not_looked_at(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    """Where it was, the manager could tell from the proposals when the report is busy."""
    busy = (dt.datetime(2026, 11, 25, 12, 0, tzinfo=UTC), dt.datetime(2026, 12, 20, 12, 0, tzinfo=UTC))
    busy_times.replace(blocks=[busy], actor=report, now=now, today=now.date())
    (one,) = finding_times.find(manager, now=now).proposals
    assert (one.reason, one.obstacle) == ("as agreed", "")


def test_a_day_that_is_taken_whole_gives_another_with_its_reason(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    busy = (dt.datetime(2026, 12, 3, 0, 0, tzinfo=UTC), dt.datetime(2026, 12, 4, 0, 0, tzinfo=UTC))
    busy_times.replace(blocks=[busy], actor=manager, now=now, today=now.date())
    (one,) = finding_times.find(manager, now=now).proposals
    assert (one.day, one.reason, one.obstacle) == (DAY(2026, 12, 2), "other day", "busy")


def test_days_off_of_either_side_are_left_out(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    DayAway.objects.create(person=report, first=DAY(2026, 12, 2), last=DAY(2026, 12, 4))
    DayAway.objects.create(person=manager, first=DAY(2026, 12, 7), last=DAY(2026, 12, 7))
    (one,) = finding_times.find(manager, now=now).proposals
    assert (one.day, one.reason, one.obstacle) == (DAY(2026, 12, 1), "other day", "away")


def test_where_both_are_never_there_it_says_so(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    DayAway.objects.create(person=report, first=DAY(2026, 11, 25), last=DAY(2026, 12, 31))
    found = finding_times.find(manager, now=now)
    assert found.proposals == ()
    assert [(one.report, one.due) for one in found.left] == [("Tomas Lindqvist", DAY(2026, 12, 7))]


def test_a_time_lies_in_the_working_hours_of_both_zones(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    """London and New York are five hours apart in December: 13:00 to 18:00 in London suits both."""
    Person.objects.filter(pk=report.pk).update(zone="America/New_York")
    report.refresh_from_db()
    line = make_line(manager, report, terms=QUARTERLY)
    blocked = coming_of(line).starts_at
    busy = [(blocked, blocked + dt.timedelta(minutes=50))]
    busy_times.replace(blocks=busy, actor=manager, now=now, today=now.date())
    (one,) = finding_times.find(manager, now=now).proposals
    there = cadence.local(one.starts_at, "America/New_York").time()
    assert one.reason == "other time"
    assert dt.time(8) <= there
    assert one.time <= dt.time(17, 10)


def test_a_line_past_its_interval_comes_as_soon_as_there_is_room(line: Line, manager: Person) -> None:
    now = dt.datetime(2027, 3, 10, 9, 0, tzinfo=UTC)
    (one,) = finding_times.find(manager, now=now).proposals
    assert (one.reason, one.day) == ("overdue", DAY(2027, 3, 11))


def test_a_line_past_its_interval_is_not_left_at_a_later_date_of_its_own(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    """Every two weeks on a Wednesday, the last one due on 18 November: the 9th of December is too late."""
    terms = replace(QUARTERLY, every=2, weekday=3, anchor=DAY(2026, 10, 28))
    line = make_line(manager, report, terms=terms)
    Meeting.objects.filter(line=line).delete()
    planned = coming_after(line, DAY(2026, 12, 2), now)
    (one,) = finding_times.find(manager, now=now).proposals
    assert line_calendar.local_day(planned.starts_at, planned.zone) == DAY(2026, 12, 9)
    assert (one.reason, one.day, one.is_present) == ("overdue", DAY(2026, 11, 26), False)


@pytest.mark.parametrize("size", [7, 30])
def test_every_interval_is_kept_and_nothing_overlaps(size: int, lead: Person, now: dt.datetime) -> None:
    grow(lead, size, now=now, span=size)
    found = finding_times.find(lead, now=now)
    assert found.gap == 0
    assert found.proposals
    confirmed = Meeting.objects.coming().filter(line__manager=lead, starts_at__gt=now)
    fixed = confirmed.exclude(line__in=[one.line_id for one in found.proposals])
    spans = [(one.starts_at, one.starts_at + dt.timedelta(minutes=one.minutes)) for one in found.proposals]
    spans += [(one.starts_at, one.starts_at + dt.timedelta(minutes=one.minutes)) for one in fixed]
    spans.sort()
    placed = {one.starts_at for one in found.proposals}
    for (begins, ends), (follows, _) in pairwise(spans):
        assert ends <= follows or not {begins, follows} & placed
    lines = {line.pk: line for line in Line.objects.filter(manager=lead).select_related("manager", "report")}
    for one in found.proposals:
        assert one.reason == "overdue" or (one.due and one.day <= one.due)
        assert line_calendar.working_days(lines[one.line_id], around=one.day).works(one.day)
    assert max(Counter(one.day for one in found.proposals).values()) < len(found.proposals) or size == 1


def test_ten_times_the_lines_take_as_many_queries(db: None, now: dt.datetime) -> None:
    few, many = make_person("Ada Brook"), make_person("Bo Falk")
    grow(few, 3, now=now, span=3)
    grow(many, 30, now=now, span=30, seed=5)
    counts = []
    for lead in (few, many):
        with queries() as made:
            finding_times.find(lead, now=now)
        counts.append(len(made))
    assert counts[0] == counts[1]


def test_an_agreed_time_at_a_quarter_past_stays_possible(
    manager: Person, report: Person, now: dt.datetime
) -> None:
    make_line(manager, report, terms=replace(QUARTERLY, time=dt.time(10, 15)))
    (one,) = finding_times.find(manager, now=now).proposals
    assert (one.time, one.reason) == (dt.time(10, 15), "as agreed")


@pytest.mark.parametrize(
    ("begins", "minutes", "inside"),
    [("17:10", 50, True), ("17:11", 50, False), ("08:00", 50, True), ("07:59", 50, False)],
)
def test_working_hours_end_at_eighteen_and_what_ends_then_is_inside(
    begins: str, minutes: int, inside: bool
) -> None:
    start = dt.datetime.combine(DAY(2026, 12, 3), dt.time.fromisoformat(begins), tzinfo=UTC)
    assert occupied_times.in_hours(start, dt.timedelta(minutes=minutes), "Europe/London") is inside
