"""Input that cannot be planned is refused by a sentence that names the field and what would do."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from oneonone.planner import Frame, Item, PlannerRefusal, plan, replan
from oneonone.planner.refusals import (
    CircleOfAfter,
    DuplicateKey,
    LeastAboveWanted,
    OrderAgainstAfter,
    OutOfRange,
    UnknownKey,
)

ROSTER = Item("roster", "manager", 10, 5, 9)
RADIO = Item("radio", "report", 10, 5, 7)
FRAME = Frame(30, opening=4, closing=3)


@pytest.mark.parametrize(
    ("change", "kind", "field"),
    [
        (lambda: replace(ROSTER, least=11), LeastAboveWanted, "least"),
        (lambda: replace(ROSTER, wanted=0), OutOfRange, "wanted"),
        (lambda: replace(ROSTER, wanted=1441), OutOfRange, "wanted"),
        (lambda: replace(ROSTER, least=0), OutOfRange, "least"),
        (lambda: replace(ROSTER, worth=0), OutOfRange, "worth"),
        (lambda: replace(ROSTER, side="team"), OutOfRange, "side"),
        (lambda: replace(ROSTER, start=-1), OutOfRange, "start"),
        (lambda: replace(ROSTER, not_before=-1), OutOfRange, "not_before"),
        (lambda: replace(ROSTER, by=True), OutOfRange, "by"),
        (lambda: replace(ROSTER, key=""), OutOfRange, "key"),
        (lambda: replace(ROSTER, asked=0), OutOfRange, "asked"),
        (lambda: replace(ROSTER, after=("tides",)), UnknownKey, "after"),
        (lambda: replace(ROSTER, after=("roster",)), CircleOfAfter, "after"),
        (lambda: replace(ROSTER, key="radio"), DuplicateKey, "key"),
    ],
)
def test_a_topic_out_of_range_is_refused(
    change: Callable[[], Item], kind: type[PlannerRefusal], field: str
) -> None:
    with pytest.raises(kind) as refused:
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
        (lambda: replace(FRAME, slack=24), "slack"),
        (lambda: replace(FRAME, beta=Fraction(3, 2)), "beta"),
        (lambda: replace(FRAME, kappa=-1), "kappa"),
        (lambda: replace(FRAME, mu=-1), "mu"),
        (lambda: replace(FRAME, floors={"lead": Fraction(1, 2)}), "floors"),
        (lambda: replace(FRAME, floors={"manager": Fraction(2)}), "floors"),
        (lambda: replace(FRAME, floors={"manager": Fraction(2, 3), "report": Fraction(1, 2)}), "floors"),
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
    with pytest.raises(CircleOfAfter, match="radio after tides after roster after radio"):
        plan(items, FRAME)


def test_an_order_by_hand_against_after_is_refused_even_through_a_third() -> None:
    items = [
        ROSTER,
        Item("tides", None, 5, 5, 5, after=("roster",)),
        replace(RADIO, after=("tides",)),
    ]
    with pytest.raises(OrderAgainstAfter, match="'roster' before 'radio'"):
        plan(items, replace(FRAME, order=("radio", "roster")))


def test_an_order_may_name_topics_that_are_gone() -> None:
    assert plan([ROSTER, RADIO], replace(FRAME, order=("radio", "gone", "roster"))).keys == (
        "radio",
        "roster",
    )


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
