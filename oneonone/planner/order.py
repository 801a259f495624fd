"""The order of the topics of one gap: least worth times end minute, of rank 0 first, then of rank 1, then 2.

Without ties that is rank, then worth a minute (Smith, Naval Research Logistics Quarterly 3, 1956). With ties
topics fall into composite jobs of falling worth a minute (Sidney, Operations Research 23, 1975; Horn, SIAM
Journal on Applied Mathematics 23, 1972), and each is ordered by going through the sets that can stand first
(Held & Karp, Journal of the Society for Industrial and Applied Mathematics 10, 1962).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from oneonone.planner.knapsack import Budget
from oneonone.planner.problem import bits

RANK_SHIFT = 60
"""Bits between the weights of two ranks: more than worth times minutes of a whole meeting can have."""

MOST_SETS = 5_000
"""Sets that are gone through for one group of tied topics at most."""


@dataclass(frozen=True, slots=True)
class Composite:
    """Topics that stand next to each other in this order in a best order, and what they weigh."""

    line: tuple[int, ...]
    weight: int
    minutes: int


@dataclass
class Sequencing:
    """One gap's topics with their minutes and ranks; `ahead[i]` are those that have to stand before i."""

    topics: Sequence[int]
    minutes: Mapping[int, int]
    worth: Sequence[int]
    rank: Mapping[int, int]
    ahead: Mapping[int, set[int]]
    budget: Budget

    def __post_init__(self) -> None:
        self.weight = {i: self.worth[i] << RANK_SHIFT * (2 - self.rank[i]) for i in self.topics}

    def best(self) -> list[int]:
        """The best order; of equal ones that with the earlier topic in the static order first."""
        if not any(self.ahead[i] for i in self.topics):
            return self._merged([Composite((i,), self.weight[i], self.minutes[i]) for i in self.topics])
        found: list[Composite] = []
        waiting = self._components(set(self.topics))
        while waiting:
            component = waiting.pop()
            first = self._first(component)
            found.append(first)
            waiting.extend(self._components(component - set(first.line)))
        return self._merged(found)

    def _merged(self, composites: Sequence[Composite]) -> list[int]:
        """Composites by falling weight a minute; of equal ones that may come next the one that begins earliest."""
        left = sorted(composites, key=lambda one: (Fraction(-one.weight, one.minutes), one.line[0]))
        done: dict[int, None] = {}
        while left:
            for one in left:
                if all(self.ahead[i] <= done.keys() | set(one.line) for i in one.line):
                    break
            left.remove(one)
            done.update(dict.fromkeys(one.line))
        return list(done)

    def _components(self, topics: set[int]) -> list[set[int]]:
        """Groups of topics that are tied to each other."""
        near: dict[int, set[int]] = {i: self.ahead[i] & topics for i in topics}
        for i in topics:
            for j in self.ahead[i] & topics:
                near[j] = near[j] | {i}
        found, left = [], set(topics)
        while left:
            group, edge = set[int](), {min(left)}
            while edge:
                group |= edge
                edge = set[int]().union(*(near[i] for i in edge)) - group
            left -= group
            found.append(group)
        return found

    def _first(self, component: set[int]) -> Composite:
        """The smallest set of the highest weight a minute that can stand first, in its best order."""
        if len(component) == 1:
            (i,) = component
            return Composite((i,), self.weight[i], self.minutes[i])
        members = sorted(component)
        place = {i: k for k, i in enumerate(members)}
        before = [sum(1 << place[j] for j in self.ahead[i] & component) for i in members]
        size = [self.minutes[i] for i in members]
        load = [self.weight[i] for i in members]
        sets = self._sets(before, size, load)
        if sets is None:
            return self._guessed(component)
        best, best_weight, best_minutes = 0, 0, 1
        for one, (weight, minutes) in sets.items():
            if one:
                gain = weight * best_minutes - best_weight * minutes
                if gain > 0 or (gain == 0 and one.bit_count() < best.bit_count()):
                    best, best_weight, best_minutes = one, weight, minutes
        line = self._ordered(best, sets, before, size, load)
        return Composite(tuple(members[k] for k in line), best_weight, best_minutes)

    def _sets(
        self, before: Sequence[int], size: Sequence[int], load: Sequence[int]
    ) -> dict[int, tuple[int, int]] | None:
        """Every set that can stand first, with its weight and minutes; None if there are too many."""
        found = {0: (0, 0)}
        layer = [0]
        while layer:
            following = []
            for one in layer:
                weight, minutes = found[one]
                for k, needed in enumerate(before):
                    if not one >> k & 1 and needed & ~one == 0:
                        grown = one | 1 << k
                        if grown not in found:
                            found[grown] = (weight + load[k], minutes + size[k])
                            following.append(grown)
            if len(found) > MOST_SETS or not self.budget.spend(len(following)):
                return None
            layer = following
        return found

    def _ordered(
        self,
        whole: int,
        sets: Mapping[int, tuple[int, int]],
        before: Sequence[int],
        size: Sequence[int],
        load: Sequence[int],
    ) -> list[int]:
        """The best order of one such set, by what each smaller one leaves to be done."""
        inside = sorted((one for one in sets if one & ~whole == 0), key=int.bit_count, reverse=True)
        rest: dict[int, int] = {}
        step: dict[int, int] = {}
        for one in inside:
            if one == whole:
                rest[one] = 0
                continue
            minutes = sets[one][1]
            costs = [
                (load[k] * (minutes + size[k]) + rest[one | 1 << k], k)
                for k in bits(whole & ~one)
                if before[k] & ~one == 0
            ]
            rest[one], step[one] = min(costs)
        line, one = [], 0
        while one != whole:
            line.append(step[one])
            one |= 1 << step[one]
        return line

    def _guessed(self, component: set[int]) -> Composite:
        """A good first part where there are too many sets: the topic that is worth most with all it waits for."""

        def with_ahead(i: int) -> set[int]:
            found, edge = set[int](), {i}
            while edge:
                found |= edge
                edge = set[int]().union(*(self.ahead[j] & component for j in edge)) - found
            return found

        def ratio(group: set[int]) -> Fraction:
            return Fraction(sum(self.weight[i] for i in group), sum(self.minutes[i] for i in group))

        group = max((with_ahead(i) for i in sorted(component)), key=ratio)
        done: dict[int, None] = {}
        while len(done) < len(group):
            free = [i for i in group - done.keys() if self.ahead[i] & component <= done.keys()]
            done[max(free, key=lambda i: (Fraction(self.weight[i], self.minutes[i]), -i))] = None
        top = max(Fraction(self.weight[i], self.minutes[i]) for i in component)
        share = ratio(component) / top
        self.budget.miss(max(1 - share, Fraction(1, 1 << 40)))
        return Composite(tuple(done), sum(self.weight[i] for i in group), sum(self.minutes[i] for i in group))
