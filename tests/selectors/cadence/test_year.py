"""The twelve months of a line as its picture shows them."""

from __future__ import annotations

import datetime as dt

from accounts.models import Person
from oneonone import cadence, clock
from oneonone.models import Line, Meeting
from oneonone.selectors.cadence import lines_below
from oneonone.selectors.cadence import year as cadence_year
from oneonone.selectors.cadence.year import Mark, Span, Year
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims, meetings
from tests.bench.grow import grow
from tests.cast import make_person, queries
from tests.scene import QUARTERLY, WEEKLY, coming_of, make_line

UTC = dt.UTC


def year_of(manager: Person, now: dt.datetime) -> Year:
    rows = lines_below.below(manager, now=now, everyone=False)
    (year,) = cadence_year.of_rows(rows).values()
    return year


def test_it_shows_whole_months_from_a_year_ago_to_two_ahead() -> None:
    months = cadence_year.months_of(dt.date(2026, 11, 25))
    assert (months[0], months[-1], len(months)) == (dt.date(2025, 11, 1), dt.date(2027, 1, 1), 15)


def test_a_date_by_interval_and_a_confirmed_one_are_told_apart(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    assert year_of(manager, now).marks == (Mark(dt.date(2026, 12, 3), "by interval"),)
    moved = dt.datetime(2026, 12, 8, 10, 0, tzinfo=UTC)
    meetings.move(meeting=meeting, starts_at=moved, actor=manager, now=now)
    later = now + dt.timedelta(hours=1)
    meetings.move(meeting=meeting, starts_at=moved + dt.timedelta(days=1), actor=manager, now=later)
    before = (dt.date(2026, 12, 3), dt.date(2026, 12, 8))
    assert year_of(manager, now).marks == (Mark(dt.date(2026, 12, 9), "confirmed", before),)


def test_a_meeting_held_stands_on_the_day_it_really_began(closed_meeting: Meeting, manager: Person) -> None:
    year = year_of(manager, clock.now())
    marks = year.marks
    # 7 September to 3 December is within thirteen weeks, which end on the 7th.
    assert year.share == cadence.Share(1, 1)
    assert year.longest == cadence.Silence(dt.date(2026, 9, 7), dt.date(2026, 12, 3), 87)
    assert marks[0] == Mark(dt.date(2026, 12, 3), "held")
    # The next one, on 4 March, lies beyond the two months ahead.
    assert len(marks) == 1


def test_called_off_denied_and_unanswered_are_each_shown_as_such(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    meetings.call_off(meeting=meeting, actor=manager, now=now)
    later = dt.datetime(2027, 3, 10, 9, 0, tzinfo=UTC)
    year = year_of(manager, later)
    assert [mark.kind for mark in year.marks] == ["called off", "not said"]
    met = held_claims.we_met(
        line=line,
        day=dt.date(2027, 3, 4),
        meeting=coming_of(line),
        discussed=(),
        actor=manager,
        now=later,
        today=later.date(),
    )
    assert [mark.kind for mark in year_of(manager, later).marks] == ["called off", "held"]
    side = line.side_for(report)
    held_claims.say(meeting=met, side=side, held=False, day=None, actor=report, now=later)
    assert [mark.kind for mark in year_of(manager, later).marks] == ["called off", "not held"]


def test_silence_past_the_interval_is_shown_to_today_and_not_over_a_pause(
    line: Line, manager: Person
) -> None:
    """The line began on 7 September 2026; thirteen weeks are over on 7 December."""
    now = dt.datetime(2026, 12, 20, 9, 0, tzinfo=UTC)
    year = year_of(manager, now)
    assert year.past == (Span(dt.date(2026, 12, 8), dt.date(2026, 12, 20)),)
    assert year.longest == cadence.Silence(dt.date(2026, 9, 7), dt.date(2026, 12, 20), 104)
    assert year.share == cadence.Share(0, 0)
    lines.pause(
        line=line,
        first=dt.date(2026, 12, 21),
        last=dt.date(2026, 12, 27),
        actor=manager,
        now=now,
        today=now.date(),
    )
    year = year_of(manager, dt.datetime(2026, 12, 30, 9, 0, tzinfo=UTC))
    assert year.paused == (Span(dt.date(2026, 12, 21), dt.date(2026, 12, 27)),)
    assert year.past == (
        Span(dt.date(2026, 12, 8), dt.date(2026, 12, 20)),
        Span(dt.date(2026, 12, 28), dt.date(2026, 12, 30)),
    )


def test_a_silence_that_began_before_the_picture_reaches_into_it(manager: Person, report: Person) -> None:
    """Held once on 1 October 2025, every thirteen weeks: past from 1 January 2026."""
    made = dt.datetime(2025, 9, 1, 9, 0, tzinfo=UTC)
    line = make_line(manager, report, terms=QUARTERLY, now=made)
    said = dt.datetime(2025, 10, 2, 9, 0, tzinfo=UTC)
    held_claims.we_met(
        line=line,
        day=dt.date(2025, 10, 1),
        meeting=None,
        discussed=(),
        actor=manager,
        now=said,
        today=said.date(),
    )
    year = year_of(manager, dt.datetime(2026, 11, 25, 9, 0, tzinfo=UTC))
    assert year.first == dt.date(2025, 11, 1)
    assert year.past == (Span(dt.date(2026, 1, 1), dt.date(2026, 11, 25)),)


def test_a_line_of_another_zone_is_shown_on_its_own_day(manager: Person, report: Person) -> None:
    terms = WEEKLY
    make_line(manager, report, terms=terms)
    late = dt.datetime(2026, 12, 31, 23, 30, tzinfo=UTC)
    assert year_of(manager, late).today == dt.date(2026, 12, 31)


def test_ten_times_the_lines_take_as_many_queries(db: None, now: dt.datetime) -> None:
    few, many = make_person("Ada Brook"), make_person("Bo Falk")
    grow(few, 3, now=now, span=3)
    grow(many, 30, now=now, span=30, seed=5)
    counts = []
    for lead in (few, many):
        rows = lines_below.below(lead, now=now, everyone=False)
        with queries() as made:
            assert len(cadence_year.of_rows(rows)) == len(rows)
        counts.append(len(made))
    assert counts == [3, 3]
