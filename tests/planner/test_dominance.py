"""Topics that can stand in for others: put in their place, every rule is kept and nothing is lost."""

from dataclasses import replace

import pytest

from oneonone.planner import Frame, Item, LeftOut, Plan, plan
from oneonone.planner.dominance import better_ones
from oneonone.planner.floors import floors_of
from oneonone.planner.problem import read
from tests.planner.rules import assert_keeps_rules, worth_of
from tests.planner.shapes import TIMED, draw


def better(items: list[Item], frame: Frame | None = None) -> set[tuple[str, str]]:
    """Pairs (better, other)."""
    problem = read(items, frame or Frame(30))
    found = better_ones(problem, floors_of(problem), range(problem.size))
    keys = [item.key for item in problem.items]
    return {(keys[i], keys[j]) for j, mask in found.items() for i in range(problem.size) if mask >> i & 1}


def test_shorter_and_worth_more_is_better() -> None:
    assert better([Item("a", None, 5, 5, 9), Item("b", None, 8, 8, 7)]) == {("a", "b")}


def test_of_two_alike_the_first_is_better() -> None:
    assert better([Item("b", None, 5, 5, 9), Item("a", None, 5, 5, 9)]) == {("a", "b")}


def test_a_topic_bound_to_a_time_does_not_stand_in_for_one_that_is_not() -> None:
    early = Item("a", None, 5, 5, 9, by=10)
    assert better([early, Item("b", None, 8, 8, 7)]) == set()
    assert better([early, Item("b", None, 8, 8, 7, by=9)]) == {("a", "b")}


@pytest.mark.parametrize(
    "other", [Item("b", None, 8, 8, 7, must=True), Item("b", None, 4, 4, 7)], ids=["must", "shorter"]
)
def test_a_topic_that_has_to_be_in_or_is_shorter_is_not_replaced(other: Item) -> None:
    assert better([Item("a", None, 5, 5, 9), other]) == set()


def test_a_topic_that_others_need_is_not_replaced() -> None:
    items = [
        Item("a", None, 5, 5, 9),
        Item("b", None, 8, 8, 7),
        Item("c", None, 2, 2, 20, after=("b",)),
    ]
    assert ("a", "b") not in better(items)


def test_an_order_by_hand_binds_the_one_that_would_come_in() -> None:
    items = [Item("a", None, 5, 5, 9), Item("b", None, 8, 8, 7)]
    assert better(items, Frame(30, order=("a",))) == set()
    assert better(items, Frame(30, order=("b",))) == {("a", "b")}


def in_place_of(made: Plan, one: Item, other: str) -> Plan:
    """The plan with one topic where another stood, no longer than it wants; the other is left out."""
    slots = tuple(
        replace(slot, key=one.key, end=slot.start + min(slot.minutes, one.wanted))
        if slot.key == other
        else slot
        for slot in made.slots
    )
    return replace(made, slots=slots, left_out=(*made.left_out, LeftOut(other, slots[0].reason)))


def keeps_shares(made: Plan, items: list[Item], frame: Frame) -> bool:
    """Whether each side has its share, be it all it asked for or not."""
    side = {item.key: item.side for item in items}
    total = sum(slot.minutes for slot in made.slots)
    return all(
        sum(slot.minutes for slot in made.slots if side[slot.key] == name) >= share * total
        for name, share in (frame.floors or {}).items()
    )


@pytest.mark.parametrize("shape", TIMED)
def test_the_better_topic_takes_the_place_of_the_other(shape: str) -> None:
    """In plans made without it, every rule is kept and the worth is no less."""
    seen = 0
    for seed in range(530, 538):
        items, frame = draw(shape, seed, 14)
        by_key = {item.key: item for item in items}
        needed = {key for item in items for key in item.after}
        for one, other in sorted(better(items, frame)):
            if one in needed or by_key[one].must:
                continue
            made = plan([item for item in items if item.key != one], frame)
            if (
                made.slot(other) is None
                or made.relaxed
                or made.infeasible
                or not keeps_shares(made, items, frame)
            ):
                continue
            changed = in_place_of(made, by_key[one], other)
            assert_keeps_rules(changed, items, frame)
            assert worth_of(changed, items, frame.beta) >= made.worth
            seen += 1
    assert seen > 5
