"""How long topics have run in a line: what counts, when there is enough of it, and whom it is told."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

import pytest

from accounts.models import Person
from oneonone.models import KindFactor, Line, Meeting, Order, Placement, Topic
from oneonone.planner import Plan, Slot, to_json
from oneonone.planner.reasons import reason
from oneonone.selectors.agenda import duration_history, orders, planner_input, planning
from oneonone.services.agenda import issuing
from oneonone.services.meetings import held_claims, meetings
from tests.scene import coming_of, make_topic, placement_of

OBSTACLE = Topic.Kind.OBSTACLE
FIRST = dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Ran:
    """One topic of a held meeting: its kind, the minutes asked, and those it took."""

    kind: str
    asked: int
    took: int


def hold(line: Line, actor: Person, *ran: Ran) -> Meeting:
    """The line's coming meeting, held by the clock with these topics, and read back for three minutes."""
    meeting = coming_of(line)
    brought = [make_topic(line, actor, one.kind, kind=one.kind, minutes=one.asked) for one in ran]
    at = meeting.starts_at
    meetings.start(meeting=meeting, actor=actor, now=at)
    for topic, one in zip(brought, ran, strict=True):
        meetings.go_on(meeting=meeting, to=placement_of(topic), continues=False, actor=actor, now=at)
        at += dt.timedelta(minutes=one.took)
    meetings.go_on(meeting=meeting, to=None, continues=False, actor=actor, now=at)
    meetings.close(meeting=meeting, actor=actor, now=at + dt.timedelta(minutes=3))
    return meeting


def thrice(line: Line, actor: Person, *ran: Ran) -> None:
    for _meeting in range(3):
        hold(line, actor, *ran)


def test_three_held_meetings_of_obstacles_that_run_over_give_the_next_more_minutes(
    line: Line, manager: Person
) -> None:
    # Six topics at 14 minutes for 9: log 14/9 = 0.442. Of it 0.04 / (0.04 + 0.16 / 6) = 0.6 is believed, so
    # the factor is exp(0.265) = 1.30.
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    topic = make_topic(line, manager, "Crane slot", kind=OBSTACLE, minutes=10)
    standing = planning.standing(coming_of(line))
    slot = standing.plan.slot(str(placement_of(topic).pk))
    assert standing.factors == {"obstacle": Fraction(13, 10)}
    assert slot is not None
    assert (slot.minutes, slot.length) == (13, reason("history", asked=10, minutes=13))


@pytest.mark.parametrize("field", ["manager_uses_history", "report_uses_history"])
def test_switched_off_by_either_minutes_are_those_asked(line: Line, manager: Person, field: str) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    topic = make_topic(line, manager, "Crane slot", kind=OBSTACLE, minutes=10)
    Line.objects.filter(pk=line.pk).update(**{field: False})
    standing = planning.standing(coming_of(line))
    slot = standing.plan.slot(str(placement_of(topic).pk))
    assert standing.factors == {}
    assert slot is not None
    assert (slot.minutes, slot.length.code) == (10, "full")


def test_a_kind_that_keeps_its_minutes_and_other_kinds_are_left_alone(line: Line, manager: Person) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(Topic.Kind.IDEA, 10, 10))
    found = duration_history.of_line(line).kinds
    assert found["idea"].factor == 1
    assert found["obstacle"].factor > 1
    assert set(found) == {"idea", "obstacle"}


@pytest.mark.parametrize(("held", "known"), [(2, False), (3, True)])
def test_a_line_has_history_from_three_held_meetings_on(
    line: Line, manager: Person, held: int, known: bool
) -> None:
    for _meeting in range(held):
        hold(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    assert bool(duration_history.of_line(line).kinds) is known
    assert duration_history.of_line(line).meetings == held


def test_a_kind_has_history_from_three_topics_on(line: Line, manager: Person) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14))
    hold(line, manager, Ran(Topic.Kind.IDEA, 5, 9), Ran(Topic.Kind.IDEA, 5, 9))
    assert set(duration_history.of_line(line).kinds) == {"obstacle"}


@pytest.mark.parametrize(
    ("took", "counts"), [(0, False), (2, False), (3, True), (10, True), (40, True), (41, False)]
)
def test_a_topic_passed_over_or_with_a_forgotten_clock_does_not_count(
    line: Line, manager: Person, took: int, counts: bool
) -> None:
    hold(line, manager, Ran(OBSTACLE, 10, took))
    assert duration_history.of_line(line).meetings == int(counts)


def test_the_topic_that_ran_as_the_meeting_was_closed_does_not_count(line: Line, manager: Person) -> None:
    meeting, topic = coming_of(line), make_topic(line, manager, kind=OBSTACLE, minutes=10)
    meetings.start(meeting=meeting, actor=manager, now=FIRST)
    meetings.go_on(meeting=meeting, to=placement_of(topic), continues=False, actor=manager, now=FIRST)
    meetings.close(meeting=meeting, actor=manager, now=FIRST + dt.timedelta(minutes=15))
    placement = Placement.objects.get(topic=topic)
    assert (placement.minutes_planned, placement.outcome) == (10, Placement.Outcome.DISCUSSED)
    assert duration_history.of_line(line).meetings == 0


def test_a_topic_said_afterwards_to_have_been_discussed_was_not_timed(
    line: Line, manager: Person, report: Person
) -> None:
    meeting, topic = coming_of(line), make_topic(line, manager, kind=OBSTACLE, minutes=10)
    held_claims.we_met(
        line=line,
        day=FIRST.date(),
        meeting=meeting,
        discussed=[placement_of(topic).pk],
        actor=manager,
        now=FIRST + dt.timedelta(days=1),
        today=FIRST.date() + dt.timedelta(days=1),
    )
    assert Placement.objects.get(topic=topic).outcome == Placement.Outcome.DISCUSSED
    assert duration_history.of_line(line).meetings == 0


def test_what_was_boxed_by_history_counts_against_what_was_asked(line: Line, manager: Person) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    before = duration_history.of_line(line).kinds["obstacle"].factor
    hold(line, manager, Ran(OBSTACLE, 10, 13))
    latest = Placement.objects.filter(topic__kind=OBSTACLE).order_by("-began_at")[0]
    assert latest.minutes_planned == 10
    # 13 for 10 is what the factor foretold: against its box of 13 it would have drawn it towards 1.
    assert duration_history.of_line(line).kinds["obstacle"].factor >= before - Fraction(1, 100)


def planned(code: str, minutes: int, **numbers: int) -> int | None:
    slot = Slot("a", 4, 4 + minutes, reason("in_turn"), reason(code, minutes=minutes, **numbers))
    return duration_history.planned_minutes(Order(plan=to_json(Plan(slots=(slot,)))), "a")


def test_minutes_planned_are_the_box_in_minutes_as_asked() -> None:
    assert planned("full", 10) == 10
    assert planned("trimmed", 7, wanted=10) == 7
    assert planned("history", 13, asked=10) == 10
    assert planned("history_trimmed", 8, asked=10, wanted=13) == 6
    assert duration_history.planned_minutes(Order(plan=to_json(Plan())), "a") is None
    assert duration_history.planned_minutes(None, "a") is None


def test_a_topic_is_never_made_longer_than_there_is_room_for(line: Line, manager: Person) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    topic = make_topic(line, manager, "All of it", kind=OBSTACLE, minutes=40)
    sheet = planner_input.of(coming_of(line))
    item = next(item for item in sheet.items if item.key == str(placement_of(topic).pk))
    assert (item.asked, item.wanted, item.least) == (40, sheet.frame.room, 26)


def test_the_factors_of_an_issued_order_stand(line: Line, manager: Person, report: Person) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    meeting, topic = coming_of(line), make_topic(line, manager, "Slot", kind=OBSTACLE, minutes=10)
    now = meeting.starts_at - dt.timedelta(days=2)
    order = issuing.issue(meeting=meeting, actor=manager, now=now)
    assert order.factors == {"obstacle": 130}
    Line.objects.filter(pk=line.pk).update(report_uses_history=False)
    Placement.objects.filter(topic=topic).update(minutes_wanted=20, minutes_least=10)
    issuing.changed(meeting=coming_of(line), actor=manager, now=now)
    latest = orders.latest(meeting)
    assert latest is not None
    assert latest.factors == {"obstacle": 130}
    length = latest.plan["slots"][0]["length"]
    assert length["numbers"] == [["asked", 20], ["minutes", 26]]


def test_the_servers_factor_counts_where_the_line_has_history_and_nowhere_else(
    line: Line, peer_line: Line, manager: Person
) -> None:
    KindFactor.objects.create(kind=OBSTACLE, hundredths=150, lines=10, counted_at=FIRST)
    assert duration_history.factors(peer_line) == {}
    thrice(line, manager, Ran(OBSTACLE, 10, 10))
    # Its own three say 1; 0.04 / (0.04 + 0.16 / 3) = 0.43 of the way from 1.5 is believed.
    assert duration_history.factors(line) == {"obstacle": Fraction(126, 100)}
    assert duration_history.factors(peer_line) == {}


def test_one_line_says_nothing_of_another(line: Line, peer_line: Line, manager: Person) -> None:
    thrice(line, manager, Ran(OBSTACLE, 9, 14), Ran(OBSTACLE, 9, 14))
    thrice(peer_line, manager, Ran(OBSTACLE, 10, 10))
    assert duration_history.factors(line) == {"obstacle": Fraction(13, 10)}
    assert duration_history.factors(peer_line) == {"obstacle": Fraction(1)}
