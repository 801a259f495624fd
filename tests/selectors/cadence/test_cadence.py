"""Sums, groups and filters of the lines a lead sees; standings as the reminders compute them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from accounts.models import Person
from oneonone.cadence.standing import Kind
from oneonone.models import Interval, Line, Meeting
from oneonone.selectors.cadence import cadence, lines_below, standing
from oneonone.selectors.cadence.cadence import SOON, Wanted
from oneonone.selectors.cadence.lines_below import Row
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims, intervals
from tests.bench.grow import grow
from tests.cast import make_person, queries
from tests.scene import QUARTERLY, coming_of, make_line

TODAY = dt.date(2026, 11, 25)


def make_row(report: str = "Tomas Lindqvist", *, kind: Kind = "within", days: int = 0, **changes: Any) -> Row:
    row = Row(
        key=report,
        manager_key="ines",
        manager="Ines Okafor",
        report=report,
        is_own=True,
        began=dt.date(2026, 1, 5),
        today=TODAY,
        every=4,
        unit="weeks",
        agreements=(),
        pauses=(),
        standing=kind,
        days=days,
        silence=10,
        last_held=None,
        due=None,
        next_day=None,
        next_confirmed=False,
    )
    return row._replace(**changes)


def test_a_line_stands_as_the_reminders_say(lead: Person, now: dt.datetime) -> None:
    grow(lead, 40, now=now, span=4)
    rows = lines_below.below(lead, now=now, everyone=True)
    assert len(rows) == 40
    found = standing.of_lines(list(Line.objects.select_related("manager", "report")), now=now)
    for row in rows:
        said = found[row.line_id]
        assert (row.standing, row.days, row.silence, row.last_held, row.due) == (
            said.kind,
            said.days,
            said.silence,
            said.last_held,
            said.due,
        )
        assert (row.next_day, row.next_confirmed, row.today) == (said.coming, said.confirmed, said.today)
        assert said.interval is not None
        assert (row.every, row.unit) == (said.interval.every, said.interval.unit)


def test_the_interval_that_makes_the_dates_is_shown_and_the_agreed_one_judges(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    weekly = replace(QUARTERLY, every=1)
    intervals.propose(line=line, terms=weekly, actor=manager, now=now, today=TODAY)
    (row,) = lines_below.below(manager, now=now, everyone=False)
    assert (row.every, row.unit) == (1, "weeks")
    assert [one.rule.every for one in row.agreements] == [13]


def test_a_line_counts_once_with_several_intervals_and_pauses(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    lines.pause(line=line, first=TODAY, last=dt.date(2026, 11, 30), actor=manager, now=now, today=TODAY)
    lines.pause(
        line=line,
        first=dt.date(2027, 1, 4),
        last=dt.date(2027, 1, 8),
        actor=manager,
        now=now,
        today=TODAY,
    )
    proposal = intervals.propose(
        line=line, terms=replace(QUARTERLY, every=2), actor=manager, now=now, today=TODAY
    )
    intervals.answer(proposal=proposal, accept=True, actor=report, now=now, today=TODAY)
    (row,) = lines_below.below(manager, now=now, everyone=False)
    assert [one.rule.every for one in row.agreements] == [13, 2]
    assert [pause.first for pause in row.pauses] == [TODAY, dt.date(2027, 1, 4)]
    assert row.standing == "paused"


def test_a_line_without_an_interval_is_within_nothing(line: Line, manager: Person, now: dt.datetime) -> None:
    Meeting.objects.all().delete()
    Interval.objects.all().delete()
    (row,) = lines_below.below(manager, now=now, everyone=False)
    assert (row.every, row.standing, row.due) == (0, "never met", None)


def test_ten_times_the_lines_take_as_many_queries(lead: Person, now: dt.datetime) -> None:
    few, many = make_person("Ada Brook"), make_person("Bo Falk")
    grow(few, 3, now=now)
    grow(many, 30, now=now, seed=5)
    with queries() as one:
        cadence.team(few, now=now, everyone=True)
    with queries() as other:
        cadence.team(many, now=now, everyone=True)
    assert len(one) == len(other)
    assert len(one) <= 2


def test_a_line_already_ended_or_not_confirmed_opens_no_way_down(
    lead: Person, manager: Person, report: Person, administrator: Person, now: dt.datetime
) -> None:
    make_line(lead, manager, actor=administrator)
    assert not cadence.team(lead, now=now).has_more_below
    further = make_line(manager, report)
    assert not cadence.team(lead, now=now).has_more_below
    lines.confirm(line=further, actor=administrator, now=now)
    assert cadence.team(lead, now=now).has_more_below


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"due": dt.date(2026, 12, 23)}, True),
        ({"due": dt.date(2026, 12, 24)}, False),
        ({"due": dt.date(2026, 11, 24)}, False),
        ({"due": dt.date(2026, 11, 25)}, True),
        ({"due": dt.date(2026, 12, 3), "next_day": dt.date(2026, 12, 3)}, True),
        ({"due": dt.date(2026, 12, 3), "next_day": dt.date(2026, 12, 3), "next_confirmed": True}, False),
        ({"due": dt.date(2026, 12, 3), "next_day": dt.date(2026, 12, 4), "next_confirmed": True}, True),
        ({"due": dt.date(2026, 12, 3), "standing": "paused"}, False),
        ({"due": None}, False),
    ],
)
def test_what_runs_out_in_four_weeks_unless_a_date_is_confirmed(
    changes: dict[str, Any], expected: bool
) -> None:
    row = make_row()._replace(**changes)
    assert cadence.runs_out(row) is expected
    assert Wanted(standing=SOON).fits(row) is expected


def test_the_longest_silence_is_of_lines_that_are_not_paused() -> None:
    rows = [
        make_row("Ada", kind="paused", silence=400),
        make_row("Bo", kind="over", days=3, silence=40),
        make_row("Cleo", kind="never met", silence=70),
        make_row("Dov", kind="runs out", days=8, silence=80),
        make_row("Esi", kind="runs out", days=7, silence=5),
    ]
    sums = cadence.sums_of(rows)
    assert sums == cadence.Sums(lines=5, over=1, never_met=1, runs_out=1, paused=1, longest=80)
    assert sums.attention == 2


def test_managers_with_most_to_look_at_come_first() -> None:
    rows = [
        make_row("Ada", kind="over", days=5, manager_key="a", manager="Henrik Aalto"),
        make_row("Bo", kind="within", manager_key="a", manager="Henrik Aalto"),
        make_row("Cleo", kind="over", days=1, manager_key="b", manager="Ines Okafor"),
        make_row("Dov", kind="never met", manager_key="b", manager="Ines Okafor"),
        make_row("Esi", kind="within", manager_key=None, manager="Not joined"),
        make_row("Finn", kind="within", manager_key=None, manager="Not joined"),
    ]
    groups = cadence.by_manager(rows)
    assert [(group.manager, group.sums.lines) for group in groups] == [
        ("Ines Okafor", 2),
        ("Henrik Aalto", 2),
        ("Not joined", 1),
        ("Not joined", 1),
    ]


@pytest.mark.parametrize(
    ("sizes", "pages"),
    [
        ([3, 3, 3], [[3, 3], [3]]),
        ([9, 1, 1], [[9], [1, 1]]),
        ([2, 9, 2], [[2], [9], [2]]),
        ([], []),
    ],
)
def test_pages_divide_no_manager(sizes: list[int], pages: list[list[int]]) -> None:
    rows = [
        make_row(f"{place}-{n}", kind="over", manager_key=str(place), silence=100 - place)
        for place, size in enumerate(sizes)
        for n in range(size)
    ]
    groups = [cadence.Group("", cadence.sums_of(part), tuple(part)) for part in _parts(rows)]
    assert [[group.sums.lines for group in page] for page in cadence.in_pages(groups, most=6)] == pages


def _parts(rows: list[Row]) -> list[list[Row]]:
    keys = list(dict.fromkeys(row.manager_key for row in rows))
    return [[row for row in rows if row.manager_key == key] for key in keys]


def test_names_are_found_by_any_part_in_whatever_case() -> None:
    row = make_row("Zoë Straße", kind="over")
    assert Wanted(name="STRASSE").fits(row)
    assert Wanted(manager="oka", name="zo", standing="over").fits(row)
    assert not Wanted(manager="aalto").fits(row)
    assert not Wanted(standing="within").fits(row)


def test_a_meeting_denied_by_a_side_does_not_end_the_silence(
    closed_meeting: Meeting, report: Person, manager: Person
) -> None:
    now = dt.datetime(2026, 12, 4, 9, 0, tzinfo=dt.UTC)
    (row,) = lines_below.below(manager, now=now, everyone=False)
    assert row.last_held == dt.date(2026, 12, 3)
    held_claims.say(
        meeting=closed_meeting,
        side=closed_meeting.line.side_for(report),
        held=False,
        day=None,
        actor=report,
        now=now,
    )
    (row,) = lines_below.below(manager, now=now, everyone=False)
    assert (row.last_held, row.standing) == (None, "never met")
    assert coming_of(closed_meeting.line).pk != closed_meeting.pk
