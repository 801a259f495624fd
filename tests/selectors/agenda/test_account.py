"""The account of a topic's place: why it is there, what it weighs, and what would let it in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import pytest
from django.db.models import F

from accounts.models import Person
from oneonone import planner
from oneonone.models import Line, Meeting, Placement, Topic
from oneonone.selectors.agenda import account
from oneonone.services.agenda import importance, issuing, placement_by_hand, topics
from tests.cast import queries
from tests.scene import STARTS, Brought, make_topic, placement_of


def told_of(reader: Person, topic: Topic) -> account.TopicAccount:
    return account.of(reader, Placement.objects.select_related("topic", "meeting__line").get(topic=topic))


@pytest.fixture
def full(line: Line, manager: Person, report: Person) -> dict[str, Topic]:
    """Room for 41 minutes, and topics that have all of theirs or none: 20 and 10 first, 10 in turn, 12 and 9
    if time allows. The last two find 1 minute left.
    """
    brought = {
        "berth": make_topic(line, manager, "Berth two", minutes=20, importance="first", kind="obstacle"),
        "radio": make_topic(line, report, "Radio procedure", minutes=10, importance="first"),
        "fenders": make_topic(line, report, "Fenders", minutes=10),
        "paint": make_topic(line, report, "Paint", minutes=12, importance="if_time"),
        "ropes": make_topic(line, manager, "Ropes", minutes=9, importance="if_time"),
    }
    Placement.objects.update(minutes_least=F("minutes_wanted"))
    return brought


def test_a_topic_that_is_in_says_by_whose_word_and_has_no_way_in(
    full: dict[str, Topic], manager: Person
) -> None:
    told = told_of(manager, full["radio"])
    assert told.is_in
    assert told.place is not None
    assert (told.place.code, told.place.by) == ("first", "Tomas")
    assert told.length is not None
    assert told.length.code == "full"
    assert told.way_in is None


def test_a_topic_left_out_says_how_many_minutes_it_lacks_and_what_would_let_it_in(
    full: dict[str, Topic], report: Person
) -> None:
    told = told_of(report, full["paint"])
    assert told.out is not None
    assert (told.out.code, dict(told.out.numbers)) == ("no_room", {"least": 12, "free": 1})
    # As a must it has its 12 of the 41. Of those that are first the berth (20, worth 6) fits beside it; the
    # radio (10) does not, nor do the fenders; 9 are left, which the ropes take.
    assert told.way_in == account.WayIn(minutes=12, out=("Radio procedure", "Fenders"))


def test_what_cannot_come_in_even_as_a_must_says_so(
    full: dict[str, Topic], meeting: Meeting, report: Person, manager: Person
) -> None:
    Placement.objects.filter(topic=full["berth"]).update(minutes_wanted=35, minutes_least=35)
    topics.set_must(placement=placement_of(full["berth"]), must=True, actor=manager, now=meeting.created_at)
    assert told_of(report, full["paint"]).way_in == account.WayIn(None)


def test_the_weight_of_a_topic_is_told_in_its_parts(
    full: dict[str, Topic], manager: Person, report: Person, now: dt.datetime
) -> None:
    importance.set_importance(topic=full["berth"], level="first", actor=report, now=now)
    told = told_of(manager, full["berth"])
    # 4, 2 for an obstacle, 2 because both say first.
    assert (told.weight.rank_from, told.weight.kind, told.weight.both_said) == ("said", 2, 2)
    assert (told.weight.worth, told.rank) == (8, "first")


def test_one_plan_is_made_for_the_way_in_and_one_for_an_order_that_is_not_stored(
    full: dict[str, Topic],
    meeting: Meeting,
    manager: Person,
    now: dt.datetime,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    made: list[int] = []
    solve = planner.replanning.plan  # type: ignore[attr-defined]  # the module behind the face

    def counted(items: Sequence[planner.Item], frame: planner.Frame) -> planner.Plan:
        made.append(1)
        plan: planner.Plan = solve(items, frame)
        return plan

    monkeypatch.setattr(planner, "plan", counted)
    monkeypatch.setattr("oneonone.planner.replanning.plan", counted)
    told_of(manager, full["paint"])
    assert len(made) == 2
    issuing.issue(meeting=meeting, actor=manager, now=now)
    made.clear()
    told_of(manager, full["paint"])
    assert len(made) == 1
    made.clear()
    told_of(manager, full["berth"])
    assert not made


def test_once_the_meeting_has_begun_no_way_in_is_worked_out(
    under_way_meeting: Meeting, brought: Brought, line: Line, manager: Person
) -> None:
    late = make_topic(line, manager, "Radio procedure in fog", minutes=30, now=STARTS)
    assert told_of(manager, late).way_in is None


def test_a_topic_moved_by_hand_names_who_moved_it(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.licence), places=-9, actor=report, now=now)
    told = told_of(manager, brought.licence)
    assert told.place is not None
    assert (told.place.code, told.place.by) == ("by_hand", "Tomas")


def test_nobody_but_the_two_has_an_account(full: dict[str, Topic], outsider: Person) -> None:
    with pytest.raises(LookupError):
        told_of(outsider, full["berth"])
    with pytest.raises(LookupError):
        account.example(outsider, placement_of(full["berth"]).meeting)


def test_the_example_goes_through_all_topics_in_order_those_left_out_last(
    full: dict[str, Topic], meeting: Meeting, manager: Person
) -> None:
    rows = account.example(manager, meeting)
    # Radio 4 in 10 minutes is .4 a minute, the berth 6 in 20 is .3; the fenders are of the next rank.
    told = [(row.title, row.rank, row.is_in) for row in rows]
    assert [*told[:3], *sorted(told[3:])] == [
        ("Radio procedure", "first", True),
        ("Berth two", "first", True),
        ("Fenders", "in_turn", True),
        ("Paint", "if_time", False),
        ("Ropes", "if_time", False),
    ]


def test_twice_the_topics_cost_no_more_queries(
    full: dict[str, Topic], line: Line, meeting: Meeting, manager: Person
) -> None:
    def count() -> tuple[int, int]:
        with queries() as one:
            told_of(manager, full["paint"])
        with queries() as example:
            account.example(manager, meeting)
        return len(one), len(example)

    before = count()
    for number in range(5):
        make_topic(line, manager, f"Berth {number}", minutes=2)
    assert count() == before
