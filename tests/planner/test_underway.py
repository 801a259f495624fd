"""A meeting of Alder Quay Ferries under way: delays, early finishes, and what is suggested."""

from dataclasses import replace
from fractions import Fraction

import pytest

from oneonone.planner import Frame, Item, going_on, plan, replan
from oneonone.planner.refusals import UnknownKey

ROSTER = Item("winter roster", "manager", 10, 5, 20)
RADIO = Item("radio procedure", "report", 10, 5, 18)
PONTOON = Item("pontoon repair", "report", 10, 6, 15)
TIDES = Item("tide tables", "manager", 10, 8, 9)
ITEMS = [ROSTER, RADIO, PONTOON, TIDES]
HAND = ("winter roster", "radio procedure", "pontoon repair", "tide tables")
FRAME = Frame(45, opening=4, closing=5, slack=2, kappa=3, mu=20, order=HAND)
ISSUED = plan(ITEMS, FRAME)


def test_the_agenda_as_issued() -> None:
    assert [(slot.key, slot.start, slot.end) for slot in ISSUED.slots] == [
        ("winter roster", 4, 14),
        ("radio procedure", 14, 19),
        ("pontoon repair", 19, 28),
        ("tide tables", 28, 38),
    ]


def test_an_overrun_is_first_taken_from_the_slack() -> None:
    late = replan(ITEMS, FRAME, ISSUED, 16, "winter roster")
    assert [(slot.key, slot.start, slot.end) for slot in late.slots] == [
        ("winter roster", 4, 16),
        ("radio procedure", 16, 21),
        ("pontoon repair", 21, 30),
        ("tide tables", 30, 40),
    ]
    assert late.slots[0].length.code == "overrun"


def test_beyond_the_slack_boxes_are_trimmed_where_a_minute_is_worth_least_then_topics_are_kept() -> None:
    def boxes(now: int) -> list[int]:
        return [slot.minutes for slot in replan(ITEMS, FRAME, ISSUED, now, "winter roster").slots[1:]]

    assert boxes(17) == [5, 8, 10]
    assert boxes(19) == [5, 6, 10]
    assert boxes(21) == [5, 6, 8]
    kept = replan(ITEMS, FRAME, ISSUED, 28, "winter roster")
    assert kept.keys == ("winter roster", "radio procedure", "pontoon repair")
    assert [out.key for out in kept.left_out] == ["tide tables"]


def test_the_closing_is_never_touched() -> None:
    for now in range(46):
        late = replan(ITEMS, FRAME, ISSUED, now, "winter roster")
        assert all(slot.end <= 40 for slot in late.slots[1:])


def test_an_early_finish_gives_trimmed_boxes_their_minutes_back() -> None:
    early = replan(ITEMS, FRAME, ISSUED, 10, None, ["winter roster"])
    assert [(slot.key, slot.minutes) for slot in early.slots] == [
        ("radio procedure", 8),
        ("pontoon repair", 10),
        ("tide tables", 10),
    ]


def test_a_late_start_shrinks_the_room_and_says_in_minutes_when_nothing_can_be_planned() -> None:
    items = [replace(PONTOON, must=True), replace(TIDES, must=True), ROSTER]
    issued = plan(items, FRAME)
    late = replan(items, FRAME, issued, 30)
    assert late.infeasible is not None
    assert late.shortage is not None
    assert late.shortage.number("over") == 4
    assert [way.code for way in late.ways_out] == ["not_must", "not_must", "lengthen"]


def test_topics_in_the_past_are_neither_planned_nor_left_out() -> None:
    after = replan(ITEMS, FRAME, ISSUED, 24, None, ["winter roster", "radio procedure"])
    assert {*after.keys, *(out.key for out in after.left_out)} == {"pontoon repair", "tide tables"}


def test_an_agreed_start_that_has_passed_is_lifted_and_said() -> None:
    items = [ROSTER, replace(RADIO, start=14), PONTOON]
    issued = plan(items, FRAME)
    late = replan(items, FRAME, issued, 18, "winter roster")
    assert late.keys[1] == "radio procedure"
    assert [(one.code, one.number("start")) for one in late.relaxed] == [("slot_passed", 14)]


def test_a_predecessor_that_is_done_or_running_is_behind() -> None:
    items = [ROSTER, replace(RADIO, after=("winter roster",)), PONTOON]
    issued = plan(items, FRAME)
    assert "radio procedure" in replan(items, FRAME, issued, 12, None, ["winter roster"]).keys
    assert "radio procedure" in replan(items, FRAME, issued, 12, "winter roster").keys


def test_going_on_is_suggested_while_a_minute_here_is_worth_what_it_displaces() -> None:
    from_slack = going_on(ITEMS, FRAME, ISSUED, 14, "winter roster")
    assert from_slack.go_on
    assert from_slack.elsewhere == 0
    beyond = going_on(ITEMS, FRAME, ISSUED, 16, "winter roster")
    assert not beyond.go_on
    assert beyond.here == 0
    assert beyond.elsewhere == Fraction(15 * 3, 40)
    assert beyond.displaces.trimmed == (("pontoon repair", 1),)
    short = replace(ISSUED, slots=(replace(ISSUED.slots[0], end=9), *ISSUED.slots[1:]))
    within = going_on(ITEMS, FRAME, short, 9, "winter roster")
    assert within.here == Fraction(20 * 3, 50)
    assert within.elsewhere == Fraction(18 * 3, 50)
    assert within.go_on


def test_going_on_never_pushes_out_what_must_be_discussed() -> None:
    items = [ROSTER, replace(RADIO, must=True)]
    frame = replace(FRAME, slack=0, order=())
    issued = plan(items, frame)
    advice = going_on(items, frame, issued, 35, "winter roster")
    assert not advice.go_on


def test_advice_needs_a_topic_of_the_meeting() -> None:
    with pytest.raises(UnknownKey):
        going_on(ITEMS, FRAME, ISSUED, 10, "harbour dues")
