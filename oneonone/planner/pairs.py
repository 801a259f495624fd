"""What an order costs, pair by pair: one topic's minutes times the worth of the other that waits for it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import lcm

from oneonone.planner.problem import Problem, bits


@dataclass(frozen=True)
class Pairs:
    """Chosen topics by position in `topics`; sets of positions are bit masks.

    `cost[a][b]` is the cost of a before b: a's minutes times b's worth, and mu where that turns the order
    issued around. `behind[a]` are the positions that have to come after a. `alone` is what the topics cost
    without each other. `plain` says that no cost holds mu.
    """

    topics: tuple[int, ...]
    minutes: tuple[int, ...]
    worth: tuple[int, ...]
    cost: tuple[tuple[int, ...], ...]
    behind: tuple[int, ...]
    alone: int
    plain: bool = True

    @cached_property
    def falling(self) -> list[int]:
        """Most worth a minute first: without mu and without rules the cheapest order (Smith's rule)."""
        common = lcm(*self.minutes)
        return sorted(
            range(len(self.topics)), key=lambda a: (-self.worth[a] * (common // self.minutes[a]), a)
        )

    @cached_property
    def cheaper(self) -> tuple[tuple[int, ...], ...]:
        """The cost of every pair in the cheaper way round, or in the one that has to be."""
        found = [
            list(map(min, row, column))
            for row, column in zip(self.cost, zip(*self.cost, strict=True), strict=True)
        ]
        for a, mask in enumerate(self.behind):
            for b in bits(mask):
                found[a][b] = found[b][a] = self.cost[a][b]
        return tuple([tuple(row) for row in found])

    @property
    def everything(self) -> int:
        return (1 << len(self.topics)) - 1

    def total(self, line: Sequence[int]) -> int:
        """The pair costs of an order."""
        cost = self.cost
        return sum([cost[a][b] for place, a in enumerate(line) for b in line[place + 1 :]])

    def allowed(self, line: Sequence[int]) -> bool:
        """Whether an order keeps `behind`."""
        seen = 0
        for a in line:
            if self.behind[a] & seen:
                return False
            seen |= 1 << a
        return True


def pairs(problem: Problem, minutes: Mapping[int, int]) -> Pairs:
    """The pair costs of chosen topics at their minutes, without floors and times."""
    topics = tuple(sorted(minutes))
    lengths = tuple([minutes[i] for i in topics])
    worth = tuple([problem.items[i].worth for i in topics])
    return Pairs(
        topics=topics,
        minutes=lengths,
        worth=worth,
        cost=tuple([_costs(problem, topics, a, lengths[a], worth) for a in range(len(topics))]),
        behind=closed(_behind(problem, topics)),
        alone=sum([w * (problem.frame.opening + d) for w, d in zip(worth, lengths, strict=True)]),
        plain=not problem.frame.mu or not any(problem.issued[i] is not None for i in topics),
    )


def _costs(
    problem: Problem, topics: Sequence[int], a: int, minutes: int, worth: Sequence[int]
) -> tuple[int, ...]:
    """What it costs to put a before each of the others."""
    row = [minutes * w for w in worth]
    row[a] = 0
    mu, mine = problem.frame.mu, problem.issued[topics[a]]
    if mu and mine is not None:
        for b, j in enumerate(topics):
            theirs = problem.issued[j]
            if theirs is not None and theirs < mine:
                row[b] += mu
    return tuple(row)


def _behind(problem: Problem, topics: Sequence[int]) -> list[int]:
    """For each position, those that `after` or the order by hand puts behind it."""
    behind = [0] * len(topics)
    for b, j in enumerate(topics):
        if problem.before[j] or problem.hand[j] is not None:
            for a, i in enumerate(topics):
                if problem.goes_first(i, j):
                    behind[a] |= 1 << b
    return behind


def closed(behind: Sequence[int]) -> tuple[int, ...]:
    """The transitive closure."""
    if not any(behind):
        return tuple(behind)
    found = list(behind)
    for middle in range(len(found)):
        for a in range(len(found)):
            if found[a] >> middle & 1:
                found[a] |= found[middle]
    return tuple(found)


def inversions(issued: Sequence[int | None], line: Sequence[int]) -> int:
    """Pairs of topics that stand the other way round in the order issued."""
    ranks = [rank for i in line if (rank := issued[i]) is not None]
    return sum(later < earlier for place, earlier in enumerate(ranks) for later in ranks[place + 1 :])


def cost_of(problem: Problem, line: Sequence[int], over: Sequence[int]) -> int:
    """Worth times the minute each topic is over, and mu for every pair that changed places."""
    worth = sum(problem.items[i].worth * minute for i, minute in zip(line, over, strict=True))
    return worth + problem.frame.mu * inversions(problem.issued, line)
