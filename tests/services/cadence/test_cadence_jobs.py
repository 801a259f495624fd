"""A line whose interval runs out or is over: both are told, once for each time."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.cadence.standing import Kind
from oneonone.models import Line, Meeting, Notice
from oneonone.selectors.cadence.standing import Standing, of_line
from oneonone.services.cadence.cadence_jobs import CADENCE, spell_of
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims
from tests.scene import make_line

pytestmark = pytest.mark.django_db


def told() -> list[tuple[str, str]]:
    owed = Notice.objects.filter(kind="cadence").order_by("owed_at", "person__name")
    return [(notice.person.name, notice.occurrence) for notice in owed]


def days(now: dt.datetime, count: int) -> None:
    """Let the job run several times a day, on so many days."""
    for day in range(count):
        for hour in (0, 6, 18):
            while CADENCE.do_one(now + dt.timedelta(days=day, hours=hour)):
                pass


@pytest.fixture
def held(line: Line, manager: Person) -> Line:
    """Ines and Tomas met on 15 October; the interval of 13 weeks ends on 14 January, nothing is planned."""
    then = dt.datetime(2026, 10, 15, 15, 0, tzinfo=dt.UTC)
    held_claims.we_met(
        line=line,
        day=then.date(),
        meeting=None,
        discussed=[],
        actor=manager,
        now=then,
        today=then.date(),
    )
    return line


def test_nothing_is_said_while_a_line_is_within_its_interval(held: Line) -> None:
    days(dt.datetime(2026, 11, 25, tzinfo=dt.UTC), 3)
    assert told() == []


def test_both_are_told_once_when_it_runs_out_and_once_when_it_is_over(held: Line) -> None:
    Meeting.objects.filter(line=held).exclude(state="closed").update(state="called_off")
    days(dt.datetime(2026, 12, 28, tzinfo=dt.UTC), 40)
    due = of_line(held, now=dt.datetime(2026, 12, 28, tzinfo=dt.UTC)).due
    assert due is not None
    assert told() == [
        ("Ines Okafor", f"runs out {due}"),
        ("Tomas Lindqvist", f"runs out {due}"),
        ("Ines Okafor", f"over {due}"),
        ("Tomas Lindqvist", f"over {due}"),
    ]
    first, *_others, last = Notice.objects.filter(kind="cadence").order_by("owed_at")
    assert first.owed_at.date() == due - dt.timedelta(days=7)
    assert last.owed_at.date() == due + dt.timedelta(days=1)


def standing(
    kind: Kind, *, today: dt.date, due: dt.date | None = dt.date(2026, 12, 10), coming: dt.date | None = None
) -> Standing:
    return Standing(
        line_id=uuid4(),
        today=today,
        zone="Europe/London",
        interval=None,
        kind=kind,
        days=3,
        silence=80,
        last_held=None,
        due=due,
        coming=coming,
        confirmed=False,
    )


@pytest.mark.parametrize(
    ("kind", "today", "planned", "spell"),
    [
        ("within", 1, None, None),
        ("runs out", 5, None, "runs out 2026-12-10"),
        ("runs out", 5, dt.date(2026, 12, 10), None),
        ("runs out", 5, dt.date(2026, 12, 11), "runs out 2026-12-10"),
        ("runs out", 5, dt.date(2026, 12, 4), "runs out 2026-12-10"),
        ("over", 11, None, "over 2026-12-10"),
        ("over", 11, dt.date(2026, 12, 12), "over 2026-12-10"),
        ("never met", 10, None, None),
        ("never met", 11, None, "over 2026-12-10"),
        ("paused", 11, None, None),
    ],
)
def test_what_is_said_depends_on_the_standing_and_on_what_is_planned(
    kind: Kind, today: int, planned: dt.date | None, spell: str | None
) -> None:
    seen = standing(kind, today=dt.date(2026, 12, today), coming=planned)
    assert spell_of(seen) == spell


def test_without_a_last_day_there_is_nothing_to_say() -> None:
    assert spell_of(standing("within", today=dt.date(2026, 12, 10), due=None)) is None


def test_each_line_is_looked_at_once_a_day_by_its_own_calendar(held: Line) -> None:
    now = dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC)
    assert [CADENCE.do_one(now) for _time in range(2)] == [True, False]
    assert Line.objects.get().standing_at == dt.datetime(2026, 11, 26, tzinfo=dt.UTC)
    assert not CADENCE.do_one(dt.datetime(2026, 11, 25, 23, 59, tzinfo=dt.UTC))
    assert CADENCE.do_one(dt.datetime(2026, 11, 26, tzinfo=dt.UTC))


def test_paused_and_ended_lines_are_left_in_peace(
    line: Line, manager: Person, peer: Person, administrator: Person
) -> None:
    now = dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC)
    lines.pause(line=line, first=now.date(), last=None, actor=manager, now=now, today=now.date())
    ended = make_line(manager, peer)
    lines.end(line=ended, actor=administrator, now=now, today=now.date())
    days(dt.datetime(2027, 6, 1, tzinfo=dt.UTC), 2)
    assert told() == []
