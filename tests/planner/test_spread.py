"""Lengths of topics that may be interrupted: exact, and never below a plan's worth."""

from fractions import Fraction
from itertools import product
from random import Random

import pytest

from oneonone.planner import Frame, Item
from oneonone.planner.floors import floors_of
from oneonone.planner.problem import Problem, read
from oneonone.planner.spread import Spread
from oneonone.planner.times import Times, cut, times
from tests.planner.shapes import SIDES
from tests.planner.timed import examples


def interrupted(problem: Problem, when: Times, minutes: dict[int, int]) -> bool:
    """Whether minutes can be kept if every topic may be interrupted: always the most urgent one."""
    left = dict(minutes)
    for t in range(when.span):
        ready = [i for i, rest in left.items() if rest and when.earliest[i] <= t]
        if ready:
            left[min(ready, key=lambda i: (when.over[i], i))] -= 1
        if any(rest and when.over[i] <= t + 1 for i, rest in left.items()):
            return False
    return not any(left.values())


@pytest.mark.parametrize("seed", range(60))
def test_no_lengths_are_worth_more_when_topics_may_be_interrupted(seed: int) -> None:
    """Against every choice of lengths, placed by earliest due date (Jackson 1955, with interruptions)."""
    rng = Random(seed)
    items = []
    for k in range(4):
        wanted = rng.randint(2, 7)
        first, last = sorted(rng.sample(range(13), 2))
        items.append(
            Item(
                f"t{k}",
                None,
                wanted,
                rng.randint(1, wanted),
                rng.randint(2, 30),
                not_before=first if rng.random() < 0.6 else None,
                by=max(last, first + wanted) if rng.random() < 0.6 else None,
            )
        )
    problem = read(items, Frame(20, slack=rng.randint(0, 3)))
    when = times(problem)
    problem = cut(problem, when)
    assert not when.dead
    room, topics = problem.frame.room, range(problem.size)
    best = -1
    for lengths in product(
        *(range(item.least, item.least + len(problem.gain[i])) for i, item in enumerate(problem.items))
    ):
        minutes = dict(enumerate(lengths))
        if sum(lengths) <= room and interrupted(problem, when, minutes):
            best = max(best, sum(problem.worth(i, d) for i, d in minutes.items()))
    spread = Spread(problem, when, room, (), topics)
    assert spread.feasible == (best >= 0)
    if spread.feasible:
        assert spread.bound((), -1) == best
        assert spread.kept is not None
        assert interrupted(problem, when, spread.kept)


@pytest.mark.parametrize("seed", range(40))
def test_under_floors_whole_minutes_are_exact(seed: int) -> None:
    """Against every choice of lengths that keeps the floors, topics interrupted."""
    rng = Random(seed)
    items = []
    for k in range(5):
        wanted = rng.randint(2, 6)
        by = rng.randint(wanted, 20) if rng.random() < 0.4 else None
        items.append(Item(f"t{k}", SIDES[k % 3], wanted, rng.randint(1, wanted), rng.randint(2, 30), by=by))
    shares = {"report": Fraction(rng.randint(2, 5), 10), "manager": Fraction(rng.randint(1, 4), 10)}
    problem = read(items, Frame(20, floors=shares))
    when, floors = times(problem), floors_of(problem)
    problem = cut(problem, when)
    best = -1
    for lengths in product(
        *(range(t.least, t.least + len(g)) for t, g in zip(problem.items, problem.gain, strict=True))
    ):
        minutes = dict(enumerate(lengths))
        keeps = sum(lengths) <= 20 and all(floor.balance(minutes) >= 0 for floor in floors)
        value = sum(problem.worth(i, d) for i, d in minutes.items())
        if keeps and value > best and interrupted(problem, when, minutes):
            best = value
    spread = Spread(problem, when, 20, floors, range(problem.size))
    if spread.feasible:
        assert spread.bound([0, 0], -1) >= best or best < 0
        assert spread.closer_bound(-1) == best
        assert (spread.kept is not None) == (best >= 0)
    else:
        assert best < 0


def test_a_plan_is_never_worth_more_than_its_bound() -> None:
    met = 0
    for one in examples(16, range(440, 470)):
        for price in (0, one.problem.scale << 10):
            spread = Spread(one.problem, one.times, one.frame.room, one.floors, one.topics)
            assert spread.feasible
            bound = spread.bound([price] * len(one.floors), -1)
            assert one.value <= bound
            closer = spread.closer_bound(-1)
            assert one.value <= closer <= bound
            met += one.value == closer
    assert met > 100
