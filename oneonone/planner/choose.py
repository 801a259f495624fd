"""Which topics, and how long, when no topic is bound to a time: the greatest worth in the room there is.

Depth first through the forest walk, the branch with the topic first, cut by the suffix tables. Where no
topic has several predecessors the tables are exact, and the search runs straight to the best choice.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from oneonone.planner.lengths import allot, spare_worth
from oneonone.planner.problem import Problem, bits
from oneonone.planner.subsidies import subsidised
from oneonone.planner.tables import Tables, Walk, walk
from oneonone.planner.times import Times

STEPS = 200_000
"""Steps after which the search stops with what it has; the gap is then stated."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Minutes by topic, their scaled worth with kappa, and an upper bound on it (equal when proven)."""

    minutes: dict[int, int]
    value: int
    bound: int


def choose(problem: Problem, room: int) -> Choice:
    """The best choice within `room` minutes, in which the must-discuss topics' least minutes fit."""
    search = SetSearch(problem, room)
    search.narrow()
    return Choice(allot(problem, bits(search.chosen), room), search.best, search.bound)


State = tuple[int, int, int, int, int, int, tuple[int, ...]]
"""Place in the walk, topics taken, topics dropped, minutes left in all, minutes left in the chain, worth at
the least minutes, topics that can be longer."""


@dataclass
class SetSearch:
    """Sets of topics worth more than `best`, depth first; with `times`, those topics in chains last.

    The tables count subsidies in; the worth of a choice is always the true one. `base` is worth that every
    choice has.
    """

    problem: Problem
    room: int
    times: Times | None = None
    best: int = -1
    chosen: int = 0
    steps: int = 0
    base: int = 0
    tables: Tables = field(init=False)
    bound: int = field(init=False)

    def __post_init__(self) -> None:
        path = walk(self.problem, self.times)
        self.tables = Tables(self.problem, path, self.problem.gain, self.room)
        self.bound = self.tables.bound
        if not path.exact:
            self._subsidise(path)

    def _subsidise(self, path: Walk) -> None:
        """Tables that know of every predecessor, at the price a minute has near the full room."""
        row = self.tables.rows[0] if path.late else self.problem.gain[0]
        back = max(1, self.room // 4)
        price = (row[-1] - max(0, row[max(0, len(row) - 1 - back)])) // back
        gain = subsidised(self.problem, path, price)
        tables = Tables(self.problem, path, gain, self.room)
        if tables.bound < self.bound:
            self.tables, self.bound = tables, tables.bound

    def narrow(self) -> None:
        """Look for a choice near the bound, then further below it, until one is found or the steps run out.

        Where the bound is exact, the first look goes straight to a best choice.
        """
        reach = 0
        limit = STEPS // 4
        while True:
            floor = max(-1, self.bound - 1 - reach)
            self.best = floor
            ended = self.run(limit)
            if self.best > floor:
                self.bound = self.best if ended else self.bound
                return
            if floor < 0 or self.steps >= STEPS:
                self._fallback()
                return
            if ended:
                self.bound = floor
            limit = min(STEPS, self.steps + STEPS // 4)
            reach = max(self.bound // 200, reach * 3)

    def _fallback(self) -> None:
        """The must-discuss topics and then whatever fits, in the static order."""
        self.chosen = self.problem.must
        for i in range(self.problem.size):
            more = self.chosen | 1 << i | self.problem.before[i]
            if sum(self.problem.items[j].least for j in bits(more)) <= self.room:
                self.chosen = more
        self.best = value_of(self.problem, allot(self.problem, bits(self.chosen), self.room))

    def run(self, limit: int) -> bool:
        """Depth first, with a stack of open branches; whether it ended before the steps ran out."""
        problem, tables, path = self.problem, self.tables, self.tables.path
        line, skip, gain = path.line, path.skip, tables.gain
        stack: list[State] = [(0, 0, 0, self.room, self.room, 0, ())]
        while stack and self.best < self.bound:
            if self.steps >= limit or self.stopped():
                return False
            self.steps += 1
            place, taken, dropped, left, chain, base, stretch = stack.pop()
            spare = spare_worth(problem, stretch, left)
            if place == path.late or place == path.early:
                chain = self.room
            if self.base + base + tables.best(place, left, chain, spare) <= self.best:
                continue
            if place == len(line):
                self._arrive(taken)
                continue
            i = line[place]
            needed = problem.must | self.required(taken)
            if not needed >> i & 1:
                branch = sum(1 << line[p] for p in range(place, skip[place]))
                if not branch & needed:
                    stack.append((skip[place], taken, dropped | branch, left, chain, base, stretch))
            least = problem.items[i].least
            chain = min(chain, path.limit[place]) if place >= path.late else chain
            if least <= min(left, chain) and not problem.before[i] & dropped and self.admits(taken | 1 << i):
                longer = (*stretch, i) if len(gain[i]) > 1 else stretch
                stack.append(
                    (
                        place + 1,
                        taken | 1 << i,
                        dropped,
                        left - least,
                        chain - least,
                        base + gain[i][0],
                        longer,
                    )
                )
        return True

    def _arrive(self, taken: int) -> None:
        """Keep a choice that has every topic it requires, if it is worth more than the best one."""
        problem = self.problem
        if self.required(taken) & ~taken:
            return
        value = value_of(problem, allot(problem, bits(taken), self.room))
        if value > self.best:
            self.best, self.chosen = value, taken

    def required(self, taken: int) -> int:
        """What the topics of a set require."""
        needed = 0
        for i in bits(taken):
            needed |= self.problem.before[i]
        return needed

    def admits(self, taken: int) -> bool:
        """Whether a set can still grow into one to be kept."""
        return True

    def stopped(self) -> bool:
        """Whether enough has been seen."""
        return False


def value_of(problem: Problem, minutes: Mapping[int, int]) -> int:
    """The scaled worth, kappa included, of topics at those minutes."""
    return sum(problem.worth(i, d) for i, d in minutes.items())
