"""The account of a topic's place: what planning again says, in at most two plans, and nothing beyond."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from django.db.models import F
from hypothesis import given
from hypothesis import strategies as st

from accounts.models import Person
from oneonone import planner
from oneonone.models import Importance, Line, Meeting, Placement, Side, Topic
from oneonone.planner import explain
from oneonone.selectors.agenda import account, planner_input
from oneonone.services.agenda import importance, issuing, late_topics, topics
from tests.cast import queries
from tests.scene import MADE, Brought, coming_of, make_topic, placement_of

FIRST, IF_TIME = Importance.Level.FIRST, Importance.Level.IF_TIME


@pytest.fixture
def solves(monkeypatch: pytest.MonkeyPatch) -> Callable[[], int]:
    """How often the planner has planned since it was last asked; the plans are its own."""
    made: list[int] = []
    solve = planner.plan

    def counted(*given: object, **named: object) -> planner.Plan:
        made.append(1)
        return solve(*given, **named)  # type: ignore[arg-type]  # handed on as they came

    monkeypatch.setattr(planner, "plan", counted)
    monkeypatch.setattr(explain, "plan", counted)

    def since() -> int:
        count = len(made)
        made.clear()
        return count

    return since


def account(reader: Person, topic: Topic) -> account.Account:
    return account.of(reader, Placement.objects.select_related("topic", "meeting__line").get(topic=topic))


@pytest.fixture
def full(line: Line, manager: Person, report: Person) -> dict[str, Topic]:
    """Room for 41 minutes, and topics that have all of theirs or none.

    The berth (20 minutes, worth 20), the radio and the fenders (10 and 18 each) come to 56 in 40 minutes; the
    paint (12 and 8) and the ropes (9 and 8) are left out.
    """
    brought = {
        "berth": make_topic(line, manager, "Berth two", minutes=20, importance=FIRST, kind="obstacle"),
        "radio": make_topic(line, report, "Radio procedure", minutes=10, importance=FIRST),
        "fenders": make_topic(line, report, "Fenders", minutes=10, importance=FIRST),
        "paint": make_topic(line, report, "Paint", minutes=12, importance=IF_TIME),
        "ropes": make_topic(line, manager, "Ropes", minutes=9, importance=IF_TIME),
    }
    Placement.objects.update(minutes_least=F("minutes_wanted"))
    return brought


def test_without_a_topic_that_is_in_another_comes_in_and_the_order_is_worth_less(
    full: dict[str, Topic], manager: Person, solves: Callable[[], int]
) -> None:
    told = account(manager, full["radio"])
    assert told.effect == account.Effect(
        out=(),
        out_worth=0,
        come_in=("Ropes",),
        fewer=(),
        more=(),
        worth=Fraction(-10),
        minutes=0,
        given_up=(),
    )
    assert (told.is_in, told.minutes, told.silent) == (True, 10, "")
    assert solves() == told.solves == 2


def test_a_topic_left_out_says_what_would_leave_and_what_that_is_worth(
    full: dict[str, Topic], report: Person, solves: Callable[[], int]
) -> None:
    told = account(report, full["paint"])
    # With the paint the radio, the fenders and the ropes fill the 41 minutes: 8 + 18 + 18 + 8 = 52.
    assert told.effect == account.Effect(
        out=("Berth two",),
        out_worth=20,
        come_in=("Ropes",),
        fewer=(),
        more=(),
        worth=Fraction(-4),
        minutes=12,
        given_up=(),
    )
    assert told.weight.worth == 8
    assert solves() == told.solves == 2


def test_it_says_the_cheapest_ways_in(full: dict[str, Topic], manager: Person, report: Person) -> None:
    # One minute of 41 is free: eleven are missing. Worth more than 8 + 4 it comes in by itself.
    assert account(report, full["paint"]).way_in == account.WayIn(minutes=11, worth=13, if_first=True)
    importance.set_importance(topic=full["paint"], level=FIRST, actor=report, now=MADE)
    assert account(report, full["paint"]).is_in


def test_what_must_be_discussed_says_by_whom(full: dict[str, Topic], manager: Person) -> None:
    topics.set_must(placement=placement_of(full["ropes"]), must=True, actor=manager, now=MADE)
    told = account(manager, full["ropes"])
    assert (told.is_in, told.must) == (True, frozenset({Side.MANAGER}))
    assert told.weight.of_must > 0


def test_what_a_must_discuss_topic_comes_after_cannot_be_left_out(
    full: dict[str, Topic], line: Line, manager: Person
) -> None:
    topics.add(
        line=line,
        wording=topics.Wording(title="Sign off", minutes_wanted=2),
        actor=manager,
        now=MADE,
        after=[full["paint"]],
        must=True,
    )
    told = account(manager, full["paint"])
    assert (told.is_in, told.effect, told.needed_by) == (True, None, ("Sign off",))


def test_a_topic_brought_in_by_hand_says_what_the_planner_would_have_instead(
    full: dict[str, Topic], report: Person
) -> None:
    late_topics.bring_in(placement=placement_of(full["paint"]), actor=report, now=MADE)
    told = account(report, full["paint"])
    assert (told.is_in, told.by_hand, told.must) == (True, True, frozenset())
    # Without it the berth, the radio and the fenders are worth 20 + 18 + 18 again, where now it is 52.
    assert told.effect is not None
    assert (told.effect.come_in, told.effect.out) == (("Berth two",), ("Ropes",))
    assert told.effect.worth == 4
    assert not account(report, full["radio"]).by_hand


def test_what_can_never_come_in_says_by_how_much(
    full: dict[str, Topic], manager: Person, report: Person
) -> None:
    for name, person in (("berth", manager), ("radio", report)):
        topics.set_must(placement=placement_of(full[name]), must=True, actor=person, now=MADE)
    told = account(report, full["paint"])
    assert told.effect is None
    assert told.impossible is not None
    assert (told.impossible.code, told.impossible.numbers["over"]) == ("must_too_long", 1)


def test_of_an_issued_order_one_plan_is_made_beside_the_stored_one(
    full: dict[str, Topic], meeting: Meeting, manager: Person, now: dt.datetime, solves: Callable[[], int]
) -> None:
    issuing.issue(meeting=coming_of(meeting.line), actor=manager, now=now)
    solves()
    told = account(manager, full["radio"])
    assert told.effect is not None
    assert told.effect.come_in == ("Ropes",)
    assert solves() == told.solves == 1
    assert account(manager, full["paint"]).way_in == account.WayIn(minutes=11)


def test_where_must_discuss_topics_are_too_long_nothing_is_said_that_was_not_planned(
    full: dict[str, Topic], manager: Person, report: Person, solves: Callable[[], int]
) -> None:
    Placement.objects.filter(topic=full["paint"]).update(minutes_least=30, minutes_wanted=30)
    for name, person in (("berth", manager), ("paint", report)):
        topics.set_must(placement=placement_of(full[name]), must=True, actor=person, now=MADE)
    solves()
    told = account(manager, full["radio"])
    assert (told.effect, told.silent) == (None, account.TOO_LONG)
    assert solves() == told.solves == 2


def test_once_the_meeting_has_begun_the_stored_reasons_stand_alone(
    under_way_meeting: Meeting, brought: Brought, report: Person, solves: Callable[[], int]
) -> None:
    solves()
    told = account(report, brought.crane)
    assert (told.effect, told.silent, told.solves, solves()) == (None, account.BEGUN, 0, 0)
    assert told.place is not None
    assert told.length is not None


def test_a_late_topic_that_waits_says_what_it_would_push_out(
    full: dict[str, Topic], meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    issuing.issue(meeting=coming_of(meeting.line), actor=manager, now=now)
    late = make_topic(meeting.line, report, "Tide table", minutes=20, now=now)
    told = account(manager, late)
    assert told.effect is not None
    assert told.effect.out
    assert not told.is_in


def test_it_is_told_to_the_two_sides_only(full: dict[str, Topic], peer: Person) -> None:
    with pytest.raises(LookupError):
        account(peer, full["radio"])


def test_twice_the_topics_cost_no_more_queries(full: dict[str, Topic], line: Line, manager: Person) -> None:
    with queries() as few:
        account(manager, full["paint"])
    for number in range(5):
        make_topic(line, manager, f"Fender {number}", minutes=2)
    with queries() as many:
        account(manager, full["paint"])
    assert len(few) == len(many)


@given(
    worths=st.lists(st.integers(4, 34), min_size=2, max_size=6),
    minutes=st.lists(st.tuples(st.integers(1, 15), st.integers(0, 10)), min_size=6, max_size=6),
    room=st.integers(5, 30),
)
def test_from_the_worth_it_says_on_a_topic_does_come_in(
    worths: list[int], minutes: list[tuple[int, int]], room: int
) -> None:
    items = tuple(
        planner.Item(f"t{n}", None, least + more, least, worth)
        for n, (worth, (least, more)) in enumerate(zip(worths, minutes, strict=False))
    )
    sheet = planner_input.PlannerInput(items, planner.Frame(room), {})
    made = planner.plan(items, sheet.frame)
    for out in made.left_out:
        found = explain.why_out(items, sheet.frame, out.key, made)
        if found.difference is None:
            continue
        enough = account._worth_enough(found, sheet)
        assert enough is not None
        raised = [replace(item, worth=enough) if item.key == out.key else item for item in items]
        assert planner.plan(raised, sheet.frame).slot(out.key) is not None
