"""Minutes for a given set, against every way to give them."""

from collections.abc import Sequence
from fractions import Fraction
from itertools import product

import pytest

from oneonone.planner import Frame, Item
from oneonone.planner.choose import choose
from oneonone.planner.floors import floors_of
from oneonone.planner.lengths import allot, allot_kept
from oneonone.planner.problem import Problem, read
from tests.planner.shapes import draw


def _every(problem: Problem, chosen: Sequence[int], room: int) -> list[dict[int, int]]:
    ranges = [range(problem.items[i].least, problem.items[i].wanted + 1) for i in chosen]
    return [dict(zip(chosen, lengths, strict=True)) for lengths in product(*ranges) if sum(lengths) <= room]


def _value(problem: Problem, minutes: dict[int, int]) -> int:
    return sum(problem.worth(i, d) for i, d in minutes.items())


@pytest.mark.parametrize("seed", range(10))
def test_no_other_lengths_are_worth_more(seed: int) -> None:
    items, _ = draw("plain", seed, 4)
    for room in (sum(item.least for item in items), 22, 30):
        problem = read(items, Frame(60))
        tried = _every(problem, range(4), room)
        if tried:
            best = max(_value(problem, minutes) for minutes in tried)
            assert _value(problem, allot(problem, range(4), room)) == best


@pytest.mark.parametrize("seed", range(12))
def test_no_other_lengths_that_keep_the_floors_are_worth_more(seed: int) -> None:
    items, _ = draw("plain", seed, 4)
    shares = {"report": Fraction(3, 10), "manager": Fraction(1 + seed % 3, 10)}
    problem = read(items, Frame(60, floors=shares))
    floors = floors_of(problem)
    kept = [
        _value(problem, minutes)
        for minutes in _every(problem, range(4), 30)
        if all(floor.balance(minutes) >= 0 for floor in floors)
    ]
    found = allot_kept(problem, range(4), 30, floors)
    assert (found is None) == (not kept)
    if found is not None:
        assert all(floor.balance(found) >= 0 for floor in floors)
        assert _value(problem, found) == max(kept)


def test_lengths_never_fall_below_the_least_useful() -> None:
    items = [Item("a", None, 10, 8, 5), Item("b", None, 10, 8, 5)]
    assert allot(read(items, Frame(60)), [0, 1], 12) == {0: 8, 1: 8}


def test_floors_that_no_split_keeps_leave_nothing() -> None:
    items = [Item("a", "manager", 10, 10, 5, must=True), Item("b", "report", 2, 2, 5)]
    problem = read(items, Frame(60, floors={"report": Fraction(1, 2)}))
    found = choose(problem, 60, floors_of(problem))
    assert found.minutes is None
    assert found.bound < 0
