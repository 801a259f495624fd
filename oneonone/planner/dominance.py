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
    least = [item.least for item in problem.items]
    needed = problem.must
    for i in alive:
        needed |= problem.before[i]
    stand_ins = [i for i in alive if problem.hand[i] is None]
    found = dict.fromkeys(alive, 0)
    for j in sorted(alive, reverse=True):
        if needed >> j & 1:
            continue
        most, longest = problem.gain[j][-1], least[j]
        for i in stand_ins:
            if (
                problem.gain[i][-1] >= most
                and least[i] <= longest
                and i != j
                and _stands_in(problem, floors, i, j)
                and not found[i] >> j & 1
            ):
                found[j] |= 1 << i
    return found


def _stands_in(problem: Problem, floors: Sequence[Floor], i: int, j: int) -> bool:
    """Whether topic i, of no more least minutes, could take the place of j at no less worth."""
    if problem.earliest[i] > problem.earliest[j] or problem.latest[i] < problem.latest[j]:
        return False
    if problem.over[i] < problem.over[j] or problem.before[i] & ~problem.before[j]:
        return False
    mine, theirs = problem.gain[i], problem.gain[j]
    least, other = problem.items[i].least, problem.items[j].least
    most, shift = len(mine) - 1, other - least
    if mine[min(shift, most)] < theirs[0]:
        return False
    for k, worth in enumerate(theirs):
        taken = min(k + shift, most)
        if mine[taken] < worth:
            return False
        if any(f.weight(i) * (least + taken) < f.weight(j) * (other + k) for f in floors):
            return False
    return True
