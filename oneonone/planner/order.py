"""The order of chosen topics, when no topic is bound to a time: least worth times the minute it is over.

Putting a before b costs a's minutes times b's worth (Smith, Naval Research Logistics Quarterly 3, 1956), so
an order's cost is a sum over pairs (see `blocks`). A sensitive topic stands neither first nor last where that
can be helped: then pairs of ends are tried, those that could cost least first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from oneonone.planner.blocks import Answer, ordered
from oneonone.planner.pairs import Pairs, closed, pairs
from oneonone.planner.problem import Problem
from oneonone.planner.strings import Strings


@dataclass(frozen=True, slots=True)
class Sequencing:
    """Topics in order, the cost of that order, and a lower bound on it (equal when proven)."""

    line: tuple[int, ...]
    cost: int
    bound: int


def sequence(problem: Problem, minutes: Mapping[int, int]) -> Sequencing:
    """The cheapest order among those with the fewest sensitive topics first or last."""
    table = pairs(problem, minutes)
    sensitive = sum(1 << a for a, i in enumerate(table.topics) if problem.items[i].sensitive)
    best = ordered(table, table.everything)
    if sensitive and len(table.topics) > 1 and sensitive != table.everything:
        best = _guarded(table, sensitive, best)
    line = tuple(table.topics[a] for a in best.line)
    return Sequencing(line, table.alone + best.cost, table.alone + best.bound)


def ends_allowed(behind: Sequence[int], sensitive: int) -> tuple[list[int], list[int]]:
    """The positions that may stand first and last: not sensitive ones, unless the rules leave no other."""
    preceded = 0
    for mask in behind:
        preceded |= mask
    starts = [a for a in range(len(behind)) if not preceded >> a & 1]
    ends = [a for a in range(len(behind)) if not behind[a]]
    return (
        [a for a in starts if not sensitive >> a & 1] or starts,
        [a for a in ends if not sensitive >> a & 1] or ends,
    )


def _guarded(table: Pairs, sensitive: int, free: Answer) -> Answer:
    """The cheapest order whose ends are as seldom sensitive as the rules allow."""
    starts, ends = ends_allowed(table.behind, sensitive)
    if not free.line or (free.line[0] in starts and free.line[-1] in ends):
        return free
    couples = _couples(table, starts, ends)
    if not couples:
        return _one_end_sensitive(table, starts, ends, free)
    best: Answer | None = None
    bound = None
    inner: dict[int, Strings] = {}
    for least, a, b, middle, fixed in couples:
        if best is not None:
            if least >= best.cost:
                break
            if b not in inner:
                inner[b] = Strings(table, table.everything & ~(1 << b))
            if fixed + inner[b].least(middle) >= best.cost:
                continue
        part = ordered(table, middle)
        found = Answer((a, *part.line, b), fixed + part.cost, fixed + part.bound)
        bound = found.bound if bound is None else min(bound, found.bound)
        if best is None or found.cost < best.cost:
            best = found
    if best is None or bound is None:
        return free
    return Answer(best.line, best.cost, min(bound, best.cost))


def _couples(
    table: Pairs, starts: Sequence[int], ends: Sequence[int]
) -> list[tuple[int, int, int, int, int]]:
    """What an order costs at least between two ends, the ends, what is between, and what the ends cost."""
    found, cost, cheaper = [], table.cost, table.cheaper
    before, behind = [sum(row) for row in cost], [sum(column) for column in zip(*cost, strict=True)]
    beside = [sum(row) for row in cheaper]
    everywhere = sum(beside) // 2
    for a, b in product(starts, ends):
        if a != b:
            middle = table.everything & ~(1 << a) & ~(1 << b)
            fixed = before[a] + behind[b] - cost[a][b]
            between = everywhere - beside[a] - beside[b] + cheaper[a][b]
            found.append((fixed + between, a, b, middle, fixed))
    return sorted(found)


def _one_end_sensitive(table: Pairs, starts: Sequence[int], ends: Sequence[int], free: Answer) -> Answer:
    """The only topic that is not sensitive could stand at either end: the cheaper one."""
    if starts != ends:
        return free
    alone = starts[0]
    first = list(table.behind)
    first[alone] = table.everything & ~(1 << alone)
    last = [mask | (1 << alone if a != alone else 0) for a, mask in enumerate(table.behind)]
    found = [ordered(replace(table, behind=closed(behind)), table.everything) for behind in (first, last)]
    best = min(found, key=lambda answer: (answer.cost, answer.line))
    return Answer(best.line, best.cost, min(answer.bound for answer in found))
