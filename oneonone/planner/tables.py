"""Suffix tables over minutes: the most that the topics from a place on can bring in c minutes.

With at most one predecessor each the topics form a forest, and a walk that visits every topic before those
that require it can skip a whole branch when it leaves one out: the tree knapsack of Johnson & Niemi
(Mathematics of Operations Research 8, 1983), here with a choice of lengths (multiple choice: Kellerer,
Pferschy & Pisinger, Knapsack Problems, 2004). With several predecessors it remains an upper bound.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from oneonone.planner.problem import Problem, bits


@dataclass(frozen=True, slots=True)
class Walk:
    """Topics with every branch together, parents first.

    `skip[p]` is the place after the branch at p; `parent[i]` the predecessor of i that the walk follows.
    `exact` says that it follows them all.
    """

    line: tuple[int, ...]
    skip: tuple[int, ...]
    parent: tuple[int | None, ...]
    exact: bool


def walk(problem: Problem) -> Walk:
    """The forest in preorder; of several predecessors the one that itself requires most is the parent."""
    below: dict[int | None, list[int]] = {}
    parents: list[int | None] = []
    exact = True
    for i in range(problem.size):
        required = problem.before[i]
        parent = max(bits(required), key=lambda j: (problem.before[j].bit_count(), -j), default=None)
        exact = exact and (parent is None or required == problem.before[parent] | 1 << parent)
        parents.append(parent)
        below.setdefault(parent, []).append(i)
    line: list[int] = []
    skip: dict[int, int] = {}

    def visit(i: int) -> None:
        place = len(line)
        line.append(i)
        for child in below.get(i, ()):
            visit(child)
        skip[place] = len(line)

    for root in below.get(None, ()):
        visit(root)
    return Walk(tuple(line), tuple(skip[place] for place in range(len(line))), tuple(parents), exact)


def at_most(problem: Problem, path: Walk, gain: Sequence[Sequence[int]], room: int) -> list[list[int]]:
    """`table[p][c]`: the most worth from place p on in at most c minutes; negative if must-discuss fails."""
    never = -2 * sum(max(0, *g) for g in gain) - 1 if gain else -1
    tables: list[list[int]] = [[0] * (room + 1)] * (len(path.line) + 1)
    for place in range(len(path.line) - 1, -1, -1):
        i = path.line[place]
        after = tables[place + 1]
        options = [] if problem.must >> i & 1 else [tables[path.skip[place]]]
        for minutes, worth in enumerate(gain[i], problem.items[i].least):
            if minutes > room:
                break
            options.append([never] * minutes + [value + worth for value in after[: room + 1 - minutes]])
        if not options:
            tables[place] = [never] * (room + 1)
        elif len(options) == 1:
            tables[place] = options[0]
        else:
            tables[place] = list(map(max, *options))
    return tables
