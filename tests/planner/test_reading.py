"""Input that cannot be planned is refused by a sentence that names the field and what would do."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from oneonone.planner import Frame, Item, PlannerRefusal, from_json, plan, replan, to_json
from oneonone.planner.problem import read

ROSTER = Item("roster", "manager", 10, 5, 9)
RADIO = Item("radio", "report", 10, 5, 7)
FRAME = Frame(30, opening=4, closing=3)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda: replace(ROSTER, least=11), "least"),
        (lambda: replace(ROSTER, wanted=0), "wanted"),
        (lambda: replace(ROSTER, wanted=1441), "wanted"),
        (lambda: replace(ROSTER, least=0), "least"),
        (lambda: replace(ROSTER, worth=0), "worth"),
        (lambda: replace(ROSTER, worth=True), "worth"),
        (lambda: replace(ROSTER, rank=3), "rank"),
        (lambda: replace(ROSTER, tiebreak=10**16), "tiebreak"),
        (lambda: replace(ROSTER, side="team"), "side"),
        (lambda: replace(ROSTER, start=-1), "start"),
        (lambda: replace(ROSTER, key=""), "key"),
        (lambda: replace(ROSTER, asked=0), "asked"),
        (lambda: replace(ROSTER, after=("roster",)), "after"),
        (lambda: replace(ROSTER, key="radio"), "key"),
    ],
)
def test_a_topic_out_of_range_is_refused(change: Callable[[], Item], field: str) -> None:
    with pytest.raises(PlannerRefusal) as refused:
        plan([change(), RADIO], FRAME)
    assert isinstance(refused.value, ValueError)
    assert refused.value.field == field
    assert refused.value.accepted in str(refused.value)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda: replace(FRAME, minutes=0), "minutes"),
        (lambda: replace(FRAME, minutes=1441), "minutes"),
        (lambda: replace(FRAME, opening=31), "opening"),
        (lambda: replace(FRAME, closing=27), "closing"),
        (lambda: replace(FRAME, order=("radio", "radio")), "order"),
    ],
)
def test_a_frame_out_of_range_is_refused(change: Callable[[], Frame], field: str) -> None:
    with pytest.raises(PlannerRefusal) as refused:
        plan([ROSTER, RADIO], change())
    assert refused.value.field == field


def test_a_circle_is_named_topic_by_topic() -> None:
    items = [
        replace(ROSTER, after=("radio",)),
        replace(RADIO, after=("tides",)),
        Item("tides", None, 5, 5, 5, after=("roster",)),
    ]
    with pytest.raises(PlannerRefusal, match="radio after tides after roster after radio"):
        plan(items, FRAME)


def test_unknown_keys_are_ignored() -> None:
    known = plan([ROSTER, RADIO], replace(FRAME, order=("radio", "roster")))
    assert known.keys == ("radio", "roster")
    gone = replace(FRAME, order=("radio", "gone", "roster"))
    assert plan([replace(ROSTER, after=("tides",)), RADIO], gone) == known


def pairs(items: list[Item], *order: str) -> set[tuple[str, str]]:
    problem = read(items, Frame(60, order=order))
    return {(problem.items[one].key, problem.items[other].key) for one, other in problem.pairs}


def test_of_the_order_the_nearer_pair_is_kept_where_two_would_close_a_circle() -> None:
    """c needs a. In the order c, b, a the pair (b, a) is nearest to a; with it (c, a) cannot hold."""
    items = [Item(key, None, 5, 5, 4, after=("a",) if key == "c" else ()) for key in "abc"]
    assert pairs(items, "a", "b", "c") == {("a", "b"), ("a", "c"), ("b", "c")}
    assert pairs(items, "c", "a", "b") == {("a", "b"), ("c", "b")}
    assert pairs(items, "b", "c", "a") == {("b", "c"), ("b", "a")}
    assert pairs(items, "c", "b", "a") == {("c", "b")}


def test_a_pair_that_contradicts_two_agreed_starts_is_dropped_and_listed() -> None:
    early, late = Item("early", None, 5, 5, 4, start=5), Item("late", None, 5, 5, 4, start=20)
    assert pairs([early, late, RADIO], "late", "radio", "early") == {("late", "radio"), ("radio", "early")}
    made = plan([early, late], Frame(30, order=("late", "early")))
    assert made.given_up == (("late", "early"),)


@pytest.mark.parametrize(
    ("now", "running", "done", "field"),
    [
        (-1, None, (), "now"),
        (5, "tides", (), "running"),
        (5, None, ("tides",), "done"),
        (5, "roster", ("roster",), "done"),
    ],
)
def test_a_meeting_under_way_is_checked_too(
    now: int, running: str | None, done: tuple[str, ...], field: str
) -> None:
    items = [ROSTER, RADIO]
    with pytest.raises(PlannerRefusal) as refused:
        replan(items, FRAME, plan(items, FRAME), now, running, done)
    assert refused.value.field == field


@pytest.mark.parametrize(
    "change",
    [
        {"slots": [{}]},
        {"worth": [1, 2]},
        {"worth": [1, 2, "3"]},
        {"unproven": "1/0"},
        {"infeasible": {"code": "invented", "numbers": [], "keys": []}},
        {"ways_out": None},
    ],
)
def test_what_was_not_stored_by_us_is_refused(change: dict[str, object]) -> None:
    stored = to_json(plan([ROSTER, RADIO], FRAME))
    with pytest.raises(PlannerRefusal, match="a plan as it was stored"):
        from_json({**stored, **change})
