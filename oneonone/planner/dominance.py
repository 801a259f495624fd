"""Topics that can stand in for others: with one of those in, they are in as well, else they would be better.

A topic that may stand wherever another may, for no more minutes and at no less worth, can take its place in
any timetable. So only sets need to be looked at in which the better topic is in if the other is (dominance
relations: Ibaraki, Journal of the ACM 24, 1977).
"""

from collections.abc import Sequence

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem


def better_ones(problem: Problem, floors: Sequence[Floor], alive: Sequence[int]) -> dict[int, int]:
    """For each topic, those that can stand in for it and are better, or as good and first in order."""
    needed = problem.must
    for i in alive:
        needed |= problem.before[i]
    free = [
        (
            i,
            problem.gain[i][-1],
            problem.items[i].least,
            problem.earliest[i],
            problem.latest[i],
            problem.over[i],
        )
        for i in alive
        if problem.hand[i] is None
    ]
    found = dict.fromkeys(alive, 0)
    for j in sorted(alive, reverse=True):
        if needed >> j & 1:
            continue
        worth, minutes = problem.gain[j][-1], problem.items[j].least
        first, last, end = problem.earliest[j], problem.latest[j], problem.over[j]
        for i, most, least, earliest, latest, over in free:
            if (
                (most >= worth and least <= minutes and earliest <= first and latest >= last and over >= end)
                and i != j
                and not found[i] >> j & 1
                and _as_good(problem, floors, i, j)
            ):
                found[j] |= 1 << i
    return found


def _as_good(problem: Problem, floors: Sequence[Floor], i: int, j: int) -> bool:
    """Whether topic i, which can stand where j can, is worth no less at no more minutes and keeps floors.

    Worth rises evenly, and then no more, so what holds at the fewest and the most minutes of j holds between.
    """
    if problem.before[i] & ~problem.before[j]:
        return False
    mine, theirs = problem.gain[i], problem.gain[j]
    least, other = problem.items[i].least, problem.items[j].least
    fewer, longest, last = other - least, len(mine) - 1, len(theirs) - 1
    short, full = min(fewer, longest), min(fewer + last, longest)
    if mine[short] < theirs[0] or mine[full] < theirs[last]:
        return False
    return all(
        f.weight(i) * (least + taken) >= f.weight(j) * (other + k)
        for f in floors
        for k, taken in ((0, short), (last, full))
    )
