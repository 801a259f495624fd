"""Which set of topics is worth most: a table over minutes, and a search along it where gaps matter.

The table is the multiple-choice knapsack of Martello & Toth (Knapsack Problems, 1990) and Kellerer, Pferschy
& Pisinger (Knapsack Problems, 2004). The menu of topics tied by `after` is their closed subsets: the table
has a row for each set of topics that those chosen still need. Where gaps cut the minutes the table is a
bound: sets are taken by falling bound, and the first that can be placed is the best.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from heapq import heappop, heappush

from oneonone.planner.problem import Problem

NEVER = -(1 << 200)
"""The value of what is not allowed."""

MINUTE_BITS = 12

Kind = tuple[int, ...]
Fits = Callable[[frozenset[int]], bool]


@dataclass
class Budget:
    """Counted steps for a whole plan, and the sum of the shares that steps ended by it might still gain.

    `gave_up` counts questions whether a set can be placed that were not settled.
    """

    left: int = 24_000
    unproven: Fraction = Fraction(0)
    gave_up: int = 0

    def spend(self, steps: int) -> bool:
        """Count steps; False once there are none left."""
        self.left -= steps
        return self.left > 0


@dataclass
class Choice:
    """The set of most worth of the topics of a pool that fits into `room` minutes.

    What the topics of the pool need comes in only with one that needs it; `inside` is in already, `barred`
    cannot come in. `fits` tells whether a set can be placed, None if minutes are all that counts; a set that
    holds one that cannot be placed cannot be either. `kind` is the same for topics that are tied to no other
    and interchangeable in placing.
    """

    problem: Problem
    pool: Sequence[int]
    inside: frozenset[int]
    barred: frozenset[int]
    minutes: Sequence[int]
    room: int
    kind: Mapping[int, Kind]
    fits: Fits | None
    budget: Budget

    def __post_init__(self) -> None:
        problem, needs_all = self.problem, self.problem.needs_all
        barred = self.barred
        self.free = {i for i in self.pool if not barred & {i, *needs_all[i]}} - self.inside
        self.members = problem.with_needs(self.free) - self.inside
        self.order = self._order()
        position = {i: k for k, i in enumerate(self.order)}
        self.needs = [sum(1 << position[j] for j in problem.needs[i] - self.inside) for i in self.order]
        self.values = [self._value(i) for i in self.order]
        self.next_kind = list(range(1, len(self.order) + 1))
        for k in range(len(self.order) - 2, -1, -1):
            kind = self.kind.get(self.order[k])
            if kind is not None and kind == self.kind.get(self.order[k + 1]):
                self.next_kind[k] = self.next_kind[k + 1]

    def _order(self) -> list[int]:
        """Tied topics by group, each before what it needs; then the others, longest and most worth first."""
        tied = [i for i in sorted(self.members) if i not in self.kind]
        group = {i: i for i in tied}
        for i in tied:
            for j in self.problem.needs[i] & group.keys():
                old, new = group[j], group[i]
                group = {k: new if g == old else g for k, g in group.items()}
        tied.sort(key=lambda i: (group[i], -len(self.problem.needs_all[i]), i))
        worth = self.problem.worth
        single = self.members - set(tied)
        return tied + sorted(single, key=lambda i: (-self.minutes[i], self.kind[i], -worth[i], i))

    def _value(self, i: int) -> int:
        """Worth, then fewer minutes, then a bit for the place in the static order, in one number."""
        size = len(self.problem.items)
        worth = (self.problem.worth[i] << MINUTE_BITS) - self.minutes[i]
        return (worth << size) + (1 << (size - 1 - i))

    def best(self) -> frozenset[int]:
        """Of equal sets that of fewer minutes, then the one with the earlier topic in the static order."""
        if not self.members:
            return frozenset()
        self.table = self._table()
        if self.fits is not None:
            return self._search(self.fits)
        value, last = self.table[0][0][self.room], len(self.problem.items) - 1
        return frozenset(i for i in self.members if value >> (last - i) & 1)

    def _table(self) -> list[dict[int, list[int]]]:
        """For each place and set still needed the best value of what comes, by minutes left."""
        reached = [{0}]
        for k, i in enumerate(self.order):
            taken = {n & ~(1 << k) | self.needs[k] for n in reached[k] if n >> k & 1 or i in self.free}
            reached.append(taken | {n for n in reached[k] if not n >> k & 1})
            self.budget.spend(len(reached[k]) * self.room // 64)
        table: list[dict[int, list[int]]] = [{} for _ in reached]
        table[-1] = {0: [0] * (self.room + 1)}
        for k in range(len(self.order) - 1, -1, -1):
            value, size = self.values[k], self.minutes[self.order[k]]
            for needed in reached[k]:
                skip = None if needed >> k & 1 else table[k + 1][needed]
                if skip is not None and self.order[k] not in self.free:
                    table[k][needed] = skip
                    continue
                row = table[k + 1][needed & ~(1 << k) | self.needs[k]]
                take = ([NEVER] * size + [v + value for v in row])[: self.room + 1]
                table[k][needed] = take if skip is None else list(map(max, skip, take))
        return table

    def _search(self, fits: Fits) -> frozenset[int]:
        """The first set that can be placed, sets taken by falling bound."""
        known: dict[tuple[Kind, ...], bool] = {}
        unsettled = 0
        heap = [(-self.table[0][0][self.room], 0, 0, self.room, frozenset[int](), 0)]
        while True:
            bound, k, needed, left, chosen, value = heappop(heap)
            if k == len(self.order):
                return self._noted(chosen, unsettled)
            if not self.budget.spend(1):
                return self._noted(self._greedy(fits), max(-bound, unsettled))
            i = self.order[k]
            if not needed >> k & 1:
                ahead = value + self.table[self.next_kind[k]][needed][left]
                heappush(heap, (-ahead, self.next_kind[k], needed, left, chosen, value))
            if (needed >> k & 1 or i in self.free) and self.minutes[i] <= left:
                more, rest, worth = (
                    needed & ~(1 << k) | self.needs[k],
                    left - self.minutes[i],
                    value + self.values[k],
                )
                ahead, gave_up = worth + self.table[k + 1][more][rest], self.budget.gave_up
                if ahead > 0 and self._placed(fits, chosen | {i}, more, known):
                    heappush(heap, (-ahead, k + 1, more, rest, chosen | {i}, worth))
                elif self.budget.gave_up > gave_up:
                    unsettled = max(unsettled, ahead)

    def _placed(
        self, fits: Fits, chosen: frozenset[int], needed: int, known: dict[tuple[Kind, ...], bool]
    ) -> bool:
        """Whether these topics and what they still need can be placed; asked once for the same kinds."""
        waiting = [i for k, i in enumerate(self.order) if needed >> k & 1]
        everything = chosen | (self.problem.with_needs(waiting) - self.inside)
        kinds = tuple(sorted(self.kind.get(i, (-1, i)) for i in everything))
        if kinds not in known:
            known[kinds] = fits(everything)
        return known[kinds]

    def _greedy(self, fits: Fits) -> frozenset[int]:
        """A good set once the budget is spent: most worth a minute first, as long as it can be placed."""
        chosen = frozenset[int]()
        for i in sorted(self.free, key=lambda i: (-self.problem.worth[i] / self.minutes[i], i)):
            grown = chosen | (self.problem.with_needs([i]) - self.inside)
            if grown != chosen and fits(grown):
                chosen = grown
        return chosen

    def _noted(self, chosen: frozenset[int], bound: int) -> frozenset[int]:
        """Note what a better set might still gain, up to that bound."""
        value = sum(self._value(i) for i in chosen)
        if bound > value:
            self.budget.unproven += Fraction(bound - value, bound)
        return chosen
