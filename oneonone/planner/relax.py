"""What gives way when the must-discuss topics cannot keep every rule: agreed times, then floors.

A floor is relaxed by the least shortfall, the larger share first; agreed times are lifted from as few
must-discuss topics as will do, least worth first. Must-discuss and the closing minutes never give way.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

from oneonone.planner.floors import Floor, floors_of, shortfall
from oneonone.planner.model import Item
from oneonone.planner.problem import Problem, bits, read
from oneonone.planner.reasons import Reason, reason
from oneonone.planner.slots import Placed, must_alone, place


def placed_or_relaxed(problem: Problem, issued: Sequence[str]) -> tuple[Problem, Placed, tuple[Reason, ...]]:
    """The best choice, the problem it solves, and what had to give way for it.

    The must-discuss topics' least minutes fit the room. Where a search was cut before it could tell that
    something has to give way, it gives way all the same, and the bound is above what was found.
    """
    room, floors = problem.frame.room, floors_of(problem)
    placed = place(problem, room, floors)
    if placed.minutes is not None:
        return problem, placed, ()
    open_bound = placed.bound
    problem, lifted, sure = _lifted(problem, issued)
    placed = place(problem, room, floors) if lifted else placed
    if placed.minutes is None:
        placed = _below_floors(problem, room, floors, placed)
    if open_bound >= 0 or not sure:
        placed = replace(placed, bound=max(placed.value + 1, placed.bound, open_bound))
    short = tuple(
        reason("floor_short", floor.side, minutes=missing, share=_share(floor))
        for floor in floors
        if (missing := shortfall(problem, floor, placed.minutes or {}))
    )
    return problem, placed, (*short, *lifted)


def _share(floor: Floor) -> Fraction:
    return Fraction(floor.others, floor.own + floor.others)


def _lifted(problem: Problem, issued: Sequence[str]) -> tuple[Problem, tuple[Reason, ...], bool]:
    """The problem with the times of as few must-discuss topics lifted as let all of them be placed.

    And whether it is sure that fewer would not do.
    """
    sure = True
    for keys in _choices(problem):
        trial = read([_untimed(item, keys) for item in problem.items], problem.frame, issued)
        alone = must_alone(trial, problem.frame.room)
        if alone.minutes is not None:
            return trial, tuple(reason("slot_lifted", key) for key in keys), sure
        sure = sure and alone.impossible
    raise AssertionError("without times the must-discuss topics fit")


def _choices(problem: Problem) -> Iterator[tuple[str, ...]]:
    """Must-discuss topics with times, in ever larger groups, those worth least first."""
    timed = [
        item
        for i in bits(problem.must)
        if (item := problem.items[i]).start is not None or item.not_before is not None or item.by is not None
    ]
    timed.sort(key=lambda item: (item.worth, item.key))
    for size in range(len(timed) + 1):
        for group in combinations(timed, size):
            yield tuple(item.key for item in group)


def _untimed(item: Item, keys: Sequence[str]) -> Item:
    return replace(item, start=None, not_before=None, by=None) if item.key in keys else item


def _below_floors(problem: Problem, room: int, floors: Sequence[Floor], refused: Placed) -> Placed:
    """The best choice when floors fall short by as little as can be.

    Where a search for the least shortfall was cut, another choice could fall less short: its worth is then
    bounded as if there were no floors, and by more than was found, so that a gap is stated. `refused` is what
    came of all the floors as they were set.
    """
    kept: list[Floor] = []
    proven = True
    answers = {frozenset(floors): refused}

    def under(rules: Sequence[Floor]) -> Placed:
        key = frozenset(rules)
        if key not in answers:
            answers[key] = place(problem, room, rules)
        return answers[key]

    for floor in sorted(floors, key=lambda floor: (-_share(floor), floor.side)):
        if under([*kept, floor]).minutes is None:
            balance, ended = _best_balance(problem, room, kept, floor)
            floor = replace(floor, short=-min(0, balance))
            proven = proven and ended
        kept.append(floor)
    placed = under(kept)
    if placed.minutes is not None and proven:
        return placed
    free = under(())
    placed = next(found for found in (placed, free, must_alone(problem, room)) if found.minutes is not None)
    return replace(placed, bound=max(placed.value + 1, placed.bound, free.bound))


def _best_balance(problem: Problem, room: int, kept: Sequence[Floor], floor: Floor) -> tuple[int, bool]:
    """The greatest balance of a floor that was found among choices of all must-discuss topics.

    And whether it is the greatest that any of them can have.
    """
    lift = floor.others * room + 1
    must = bits(problem.must)[0]
    gain = tuple(
        tuple(floor.weight(i) * d + (lift if i == must else 0) for d in range(item.least, item.wanted + 1))
        for i, item in enumerate(problem.items)
    )
    slope = tuple(g[1] - g[0] if len(g) > 1 else 0 for g in gain)
    found = place(replace(problem, gain=gain, slope=slope), room, kept)
    if found.minutes is None:
        return -lift, False
    return found.value - lift, found.bound <= found.value
