"""Lengths of topics that may be interrupted: exact without floors, and never below a plan's worth."""

from itertools import product
from random import Random

import pytest

from oneonone.planner import Frame, Item
from oneonone.planner.problem import Problem, read
from oneonone.planner.spread import Spread
from oneonone.planner.times import Times, cut, times
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


def test_a_plan_is_never_worth_more_than_its_bound() -> None:
    met = 0
    for one in examples(16, range(440, 470)):
        for price in (0, one.problem.scale << 10):
            spread = Spread(one.problem, one.times, one.frame.room, one.floors, one.topics)
            assert spread.feasible
            bound = spread.bound([price] * len(one.floors), -1)
            assert one.value <= bound
            met += one.value == bound
    assert met > 100
