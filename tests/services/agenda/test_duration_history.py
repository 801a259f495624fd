"""A line's own word on its history, and the server's factors: of ten lines or more, and of nobody."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Person
from oneonone.models import KindFactor, Line, Meeting, Placement, Topic
from oneonone.selectors.agenda import duration_history as selector
from oneonone.services.agenda import duration_history
from tests.cast import make_person
from tests.scene import MADE, coming_of, make_line, make_topic

OBSTACLE = Topic.Kind.OBSTACLE
NOW = dt.datetime(2026, 12, 20, 3, 0, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Pace:
    """How topics of a kind ran in one line: three of them, one in each of its held meetings."""

    kind: str
    asked: int
    took: int


def lines_with(manager: Person, number: int, pace: Pace) -> list[Line]:
    """So many lines, each with three held meetings in which one topic was timed."""
    return [
        _with_history(make_line(manager, make_person(f"Deckhand {n} {pace.took}")), pace)
        for n in range(number)
    ]


def _with_history(line: Line, pace: Pace) -> Line:
    meeting = coming_of(line)
    author = line.someone
    for week in range(3):
        began = MADE + dt.timedelta(weeks=week)
        held = Meeting.objects.create(
            line=line,
            is_extra=True,
            occurrence_key=f"extra:{week}",
            state=Meeting.State.CLOSED,
            starts_at=began,
            began_at=began,
            ended_at=began + dt.timedelta(hours=2),
            closed_at=began + dt.timedelta(hours=2),
            held_on=began.date(),
            uid=f"{line.pk} {week}",
            **{
                name: getattr(meeting, name)
                for name in (
                    "minutes", "zone", "invite_at", "issue_at", "prepare_by_at", "today_at", "record_at",
                    "created_at",
                )
            },
        )  # fmt: skip
        Placement.objects.filter(topic=make_topic(line, author, kind=pace.kind, minutes=pace.asked)).update(
            meeting=held,
            outcome=Placement.Outcome.DISCUSSED,
            minutes_planned=pace.asked,
            began_at=began,
            ended_at=began + dt.timedelta(minutes=pace.took),
        )
    return line


def test_nine_lines_give_the_server_no_factor_and_ten_do(manager: Person) -> None:
    lines_with(manager, 9, Pace(OBSTACLE, 10, 13))
    assert duration_history.count(now=NOW) == 0
    assert selector.of_server() == {}
    lines_with(manager, 1, Pace(OBSTACLE, 10, 14))
    assert duration_history.count(now=NOW) == 1
    row = KindFactor.objects.get()
    # The mean of nine lines at 1.3 and one at 1.4 is 1.31 (of the logarithms), kept in twentieths.
    assert (row.kind, row.hundredths, row.lines) == ("obstacle", 130, 10)


def test_a_kind_of_fewer_than_ten_lines_has_none_beside_one_that_has(manager: Person) -> None:
    lines_with(manager, 10, Pace(OBSTACLE, 10, 13))
    lines_with(manager, 9, Pace(Topic.Kind.IDEA, 10, 20))
    assert duration_history.count(now=NOW) == 1
    assert set(selector.of_server()) == {"obstacle"}


def test_a_factor_goes_once_too_few_lines_stand_behind_it(manager: Person) -> None:
    made = lines_with(manager, 10, Pace(OBSTACLE, 10, 13))
    duration_history.count(now=NOW)
    duration_history.use(line=made[0], uses=False, actor=manager, now=NOW)
    assert duration_history.count(now=NOW + dt.timedelta(days=6)) == 1
    assert duration_history.count(now=NOW + dt.timedelta(days=8)) == 0
    assert not KindFactor.objects.exists()


def test_counting_twice_changes_nothing(manager: Person) -> None:
    lines_with(manager, 10, Pace(OBSTACLE, 10, 13))
    duration_history.count(now=NOW)
    before = list(KindFactor.objects.values())
    duration_history.count(now=NOW)
    assert list(KindFactor.objects.values()) == before


def test_what_was_held_more_than_a_year_ago_is_not_counted(manager: Person) -> None:
    lines_with(manager, 10, Pace(OBSTACLE, 10, 13))
    assert duration_history.count(now=MADE + dt.timedelta(days=400)) == 0


def test_the_database_refuses_a_factor_of_fewer_than_ten_lines(db: None) -> None:
    row = KindFactor(kind=OBSTACLE, hundredths=130, lines=9, counted_at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()


def test_a_stored_factor_names_no_line_and_nobody(manager: Person) -> None:
    fields = {field.name for field in KindFactor._meta.get_fields()}
    assert fields == {"id", "kind", "hundredths", "lines", "counted_at"}


def test_either_side_switches_it_off_and_only_its_own_word_on_again(
    line: Line, manager: Person, report: Person
) -> None:
    duration_history.use(line=line, uses=False, actor=report, now=NOW)
    duration_history.use(line=line, uses=True, actor=manager, now=NOW)
    found = selector.of_line(line)
    assert (found.manager_uses, found.report_uses, found.is_used) == (True, False, False)
    duration_history.use(line=line, uses=True, actor=report, now=NOW)
    assert selector.of_line(line).is_used


def test_saying_the_same_again_changes_nothing_and_open_pages_are_woken_once(
    line: Line, meeting: Meeting, report: Person
) -> None:
    for _time in range(2):
        duration_history.use(line=line, uses=False, actor=report, now=NOW)
    assert coming_of(line).seq == meeting.seq + 1
    assert line.version == 2


def test_nobody_else_has_a_word(line: Line, peer: Person) -> None:
    with pytest.raises(LookupError):
        duration_history.use(line=line, uses=False, actor=peer, now=NOW)
