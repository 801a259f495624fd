"""Which topics, and how long, when no topic is bound to a time: the greatest worth in the room there is.

Depth first through the forest walk, the branch with the topic first, cut by the suffix tables. Where no
topic has several predecessors the tables are exact, and the search runs straight to the best choice.
"""

from dataclasses import dataclass, field
from operator import add

from oneonone.planner.lengths import allot, spare_worth
from oneonone.planner.problem import Problem, bits
from oneonone.planner.tables import Walk, at_most, walk

STEPS = 200_000
"""Steps after which the search stops with what it has; the gap is then stated."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Minutes by topic, their scaled worth with kappa, and an upper bound on it (equal when proven)."""

    minutes: dict[int, int]
    value: int
    bound: int


def choose(problem: Problem, room: int) -> Choice | None:
    """The best choice within `room` minutes; None when must-discuss topics alone do not fit."""
    if room < 0:
        return None
    search = _Search(problem, room)
    if search.bound < 0:
        return None
    search.run()
    if search.best < 0:
        return None
    chosen = bits(search.chosen)
    proven = search.steps < STEPS or search.best == search.bound
    return Choice(allot(problem, chosen, room), search.best, search.best if proven else search.bound)


@dataclass
class _Search:
    problem: Problem
    room: int
    best: int = -1
    chosen: int = 0
    steps: int = 0
    path: Walk = field(init=False)
    tables: list[list[int]] = field(init=False)
    bound: int = field(init=False)

    def __post_init__(self) -> None:
        self.path = walk(self.problem)
        self.tables = at_most(self.problem, self.path, self.problem.gain, self.room)
        self.bound = self.tables[0][self.room]

    def run(self) -> None:
        """Depth first, with a stack of open branches."""
        problem, line, skip = self.problem, self.path.line, self.path.skip
        stack: list[tuple[int, int, int, int, int, tuple[int, ...]]] = [(0, 0, 0, self.room, 0, ())]
        while stack and self.steps < STEPS and self.best < self.bound:
            self.steps += 1
            place, taken, dropped, left, base, stretch = stack.pop()
            spare = spare_worth(problem, stretch, left)
            if base + max(map(add, spare, self.tables[place][left::-1])) <= self.best:
                continue
            if place == len(line):
                if not _required(problem, taken) & ~taken:
                    self.best, self.chosen = base + spare[left], taken
                continue
            i = line[place]
            needed = problem.must | _required(problem, taken)
            if not needed >> i & 1:
                branch = sum(1 << line[p] for p in range(place, skip[place]))
                if not branch & needed:
                    stack.append((skip[place], taken, dropped | branch, left, base, stretch))
            least = problem.items[i].least
            if least <= left and not problem.before[i] & dropped:
                longer = (*stretch, i) if len(problem.gain[i]) > 1 else stretch
                gained = base + problem.gain[i][0]
                stack.append((place + 1, taken | 1 << i, dropped, left - least, gained, longer))


def _required(problem: Problem, taken: int) -> int:
    needed = 0
    for i in bits(taken):
        needed |= problem.before[i]
    return needed


def value_of(problem: Problem, minutes: dict[int, int]) -> int:
    """The scaled worth, kappa included, of topics at those minutes."""
    return sum(problem.worth(i, d) for i, d in minutes.items())
