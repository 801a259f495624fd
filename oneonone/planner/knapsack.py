"""Which set of topics is worth most: a table over minutes, and a search along it where gaps matter.

The table is the multiple-choice knapsack of Martello & Toth (Knapsack Problems, 1990) and Kellerer, Pferschy &
Pisinger (Knapsack Problems, 2004): the menu of a group of topics tied by `after` is its closed subsets, which
appear here as rows, one for each set of topics that those chosen still need. Where gaps cut the minutes the
table is a bound: sets are taken in the order of their bounds, and the first that can be placed is the best.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import heappop, heappush

from oneonone.planner.problem import Problem

NEVER = -(1 << 200)
"""The value of what is not allowed."""

MINUTE_BITS = 12

Fits = Callable[[frozenset[int]], bool]
Row = list[int]


@dataclass
class Budget:
    """Counted steps for a whole plan, and the shares that steps ended by it might still gain."""

    left: int = 40_000
    unproven: Fraction = Fraction(0)

    def spend(self, steps: int) -> bool:
        """Count steps; False once there are none left."""
        self.left -= steps
        return self.left > 0

    def miss(self, share: Fraction) -> None:
        """Note what a step that could not be proven might still gain."""
        self.unproven += share


@dataclass
class Choice:
    """The topics to choose from, with the minutes they take.

    `pool` are those that may come in by themselves; what they need may come in only with one that needs it.
    `room` minutes are there in all. `fits` tells whether a set can be placed, None if minutes are all that
    counts; a set that cannot be placed has no larger one that can. `alike[i]` names topics that are
    interchangeable in placing. With `clocked` only topics with a start take minutes, those from it on; the last are decided first.
    """

    problem: Problem
    pool: Sequence[int]
    inside: frozenset[int]
    minutes: Sequence[int]
    room: int
    budget: Budget
    fits: Fits | None = None
    clocked: bool = False
    barred: frozenset[int] = frozenset()
    alike: dict[int, tuple[int, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        needs_all = self.problem.needs_all
        self.free = [
            i
            for i in self.pool
            if i not in self.inside and i not in self.barred and not needs_all[i] & self.barred
        ]
        self.members = sorted(self.problem.with_needs(self.free) - self.inside)
        self.size = len(self.problem.items)
        self.order, self.past_alike = self._order()
        self.position = {i: k for k, i in enumerate(self.order)}
        self.single = {i for i in self.members if self._kind(i)}
        own = set(self.free)
        self.own = [i in own for i in self.order]
        self.need = [self._mask(self.problem.needs[i] - self.inside) for i in self.order]
        self.value = [self._value(i) for i in self.order]

    def best(self) -> frozenset[int]:
        """The set of most worth; of equal ones that of fewer minutes, then by the static order."""
        if not self.members:
            return frozenset()
        self.table = self._table()
        if self.fits is None:
            return self._decoded(self.table[0][0][self.room])
        return self._search(self.fits)

    def _value(self, i: int) -> int:
        """Worth, then minutes the other way round, then a bit for the place in the static order, in one number."""
        worth = (self.problem.worth[i] << MINUTE_BITS) - self.minutes[i]
        return (worth << self.size) + (1 << (self.size - 1 - i))

    def _decoded(self, value: int) -> frozenset[int]:
        return frozenset([i for i in self.members if value >> (self.size - 1 - i) & 1])

    def _mask(self, topics: frozenset[int]) -> int:
        return sum([1 << self.position[i] for i in topics])

    def _kind(self, i: int) -> tuple[int, ...]:
        """What topics have in common that are interchangeable; empty for a topic tied to others here."""
        return self.alike.get(i, ())

    def _order(self) -> tuple[list[int], list[int]]:
        """Topics that need others before those, group by group; then single ones, longest and most worth first.

        The second list tells for each place where the topics alike to the one there end.
        """
        tied = [i for i in self.members if not self._kind(i)]
        if self.clocked:
            tied.sort(key=lambda i: (self.problem.start[i] is None, -(self.problem.start[i] or 0), i))
            line = self._needers_first(tied, tied)
        else:
            line = self._needers_first(tied, self._grouped(tied))
        single = sorted(
            (i for i in self.members if self._kind(i)),
            key=lambda i: (-self.minutes[i], self._kind(i), -self.problem.worth[i], i),
        )
        order = [*line, *single]
        past = list(range(1, len(order) + 1))
        for k in range(len(order) - 2, len(line) - 1, -1):
            if self._kind(order[k]) == self._kind(order[k + 1]):
                past[k] = past[k + 1]
        return order, past

    def _grouped(self, tied: Sequence[int]) -> list[int]:
        """Topics joined by `after` next to each other."""
        group = {i: i for i in tied}
        for i in tied:
            for j in self.problem.needs[i]:
                if j in group:
                    old, new = group[j], group[i]
                    group = {k: new if g == old else g for k, g in group.items()}
        return sorted(tied, key=lambda i: (group[i], i))

    def _needers_first(self, tied: Sequence[int], line: Sequence[int]) -> list[int]:
        waiting = {i: set() for i in tied}  # type: dict[int, set[int]]
        for i in tied:
            for j in self.problem.needs[i]:
                if j in waiting:
                    waiting[j].add(i)
        done: list[int] = []
        left = list(line)
        while left:
            step = next(i for i in left if not waiting[i])
            left.remove(step)
            done.append(step)
            for needers in waiting.values():
                needers.discard(step)
        return done

    def _table(self) -> list[dict[int, Row]]:
        """For each place and set still needed the best value of what comes, by minutes left (or before which it has to be over)."""
        count = len(self.order)
        reached: list[set[int]] = [{0}]
        for k in range(count):
            following = set()
            for needed in reached[k]:
                bit = 1 << k
                if needed & bit or self.own[k]:
                    following.add(needed & ~bit | self.need[k])
                if not needed & bit:
                    following.add(needed)
            reached.append(following)
        table: list[dict[int, Row]] = [{} for _ in range(count)]
        table.append({0: [0] * (self.room + 1)})
        for k in range(count - 1, -1, -1):
            after = table[k + 1]
            self.budget.spend(len(reached[k]) * self.room // 64)
            for needed in reached[k]:
                bit = 1 << k
                skip = None if needed & bit else after[needed]
                if not needed & bit and not self.own[k]:
                    table[k][needed] = after[needed]
                    continue
                take = self._taken(k, after[needed & ~bit | self.need[k]])
                table[k][needed] = take if skip is None else list(map(max, skip, take))
        return table

    def _taken(self, k: int, row: Row) -> Row:
        """The row of values with the topic at that place in."""
        value, minutes = self.value[k], self.minutes[self.order[k]]
        if not self.clocked:
            return ([NEVER] * minutes + [v + value for v in row])[: self.room + 1]
        start = self.problem.start[self.order[k]]
        if start is None:
            return [v + value for v in row]
        end = start - self.problem.frame.opening + minutes
        return [NEVER] * end + [row[end - minutes] + value] * (self.room + 1 - end)

    def _left(self, k: int, left: int) -> int:
        """Minutes left (or before which it has to be over) once the topic at that place is in."""
        i = self.order[k]
        if not self.clocked:
            return left - self.minutes[i]
        start = self.problem.start[i]
        return left if start is None else start - self.problem.frame.opening

    def _search(self, fits: Fits) -> frozenset[int]:
        """The first set that can be placed, sets taken by falling bound."""
        known: dict[tuple[object, ...], bool] = {}
        heap = [(-self.table[0][0][self.room], 0, 0, self.room, frozenset[int](), 0)]
        count = len(self.order)
        while heap:
            bound, k, needed, left, chosen, value = heappop(heap)
            if bound >= -NEVER >> 1:
                break
            if k == count:
                return chosen
            if not self.budget.spend(1):
                return self._greedy(fits, -bound)
            bit = 1 << k
            if not needed & bit:
                past = self.past_alike[k]
                ahead = value + self.table[past][needed][left]
                heappush(heap, (-ahead, past, needed, left, chosen, value))
            if (needed & bit or self.own[k]) and self._taken_fits(k, left):
                more = needed & ~bit | self.need[k]
                rest = self._left(k, left)
                ahead = value + self.value[k] + self.table[k + 1][more][rest]
                inside = chosen | {self.order[k]}
                if ahead > NEVER >> 1 and self._placed(fits, inside, more, known):
                    heappush(heap, (-ahead, k + 1, more, rest, inside, value + self.value[k]))
        return frozenset()

    def _taken_fits(self, k: int, left: int) -> bool:
        i = self.order[k]
        start = self.problem.start[i]
        if not self.clocked or start is None:
            return self.clocked or left >= self.minutes[i]
        return start - self.problem.frame.opening + self.minutes[i] <= left

    def _placed(
        self, fits: Fits, inside: frozenset[int], needed: int, known: dict[tuple[object, ...], bool]
    ) -> bool:
        """Whether these topics and what they still need can be placed; interchangeable ones are asked once."""
        waiting = [self.order[k] for k in range(len(self.order)) if needed >> k & 1]
        everything = inside | (self.problem.with_needs(waiting) - self.inside)
        kinds = tuple(sorted((self._kind(i) or (-1, i)) for i in everything))
        if kinds not in known:
            known[kinds] = fits(everything)
        return known[kinds]

    def _greedy(self, fits: Fits, bound: int) -> frozenset[int]:
        """A good set once the budget is spent: most worth a minute first, as long as it can be placed."""
        chosen: frozenset[int] = frozenset()
        line = sorted(self.free, key=lambda i: (-self.problem.worth[i] / self.minutes[i], i))
        for i in line:
            grown = chosen | (self.problem.with_needs([i]) - self.inside)
            if grown != chosen and fits(grown):
                chosen = grown
        value = sum(self._value(i) for i in chosen)
        if bound > value:
            self.budget.miss(Fraction(bound - value, bound))
        return chosen
