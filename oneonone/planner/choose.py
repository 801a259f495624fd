"""Which topics, and how long, when no topic is bound to a time: the greatest worth in the room there is.

By tables where every topic needs at most one other, else by branch and bound.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from oneonone.planner.branch import Branching
from oneonone.planner.fit import Offer
from oneonone.planner.lengths import allot
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import room_rule
from oneonone.planner.tables import best_minutes, walk


@dataclass(frozen=True, slots=True)
class Choice:
    """Minutes by topic, their scaled worth with kappa, and an upper bound on it (equal when proven)."""

    minutes: dict[int, int]
    value: int
    bound: int


def choose(problem: Problem, room: int) -> Choice:
    """The best choice within `room` minutes, in which the must-discuss topics' least minutes fit."""
    path = walk(problem)
    if path is not None:
        minutes = best_minutes(problem, path, room)
        value = value_of(problem, minutes)
        return Choice(minutes, value, value)
    return _branched(problem, room)


def _branched(problem: Problem, room: int) -> Choice:
    alive = range(problem.size)
    best = allot(problem, bits(problem.must), room)

    def worth(chosen: int, known: int, offer: Offer) -> tuple[int | None, bool]:
        nonlocal best
        minutes = allot(problem, bits(chosen), room)
        value = value_of(problem, minutes)
        if sum(minutes.values()) > room or value <= known:
            return None, True
        best = minutes
        return value, True

    search = Branching(problem, alive, [room_rule(problem, alive, room)], (), worth, lambda taken: True)
    search.run()
    return Choice(best, value_of(problem, best), search.bound)


def value_of(problem: Problem, minutes: Mapping[int, int]) -> int:
    """The scaled worth, kappa included, of topics at those minutes."""
    return sum(problem.worth(i, d) for i, d in minutes.items())
