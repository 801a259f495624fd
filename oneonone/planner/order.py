"""The order of the topics of one gap: least worth times end minute, of rank 0 first, then of rank 1, then 2.

Without ties that is rank, then worth a minute (Smith, Naval Research Logistics Quarterly 3, 1956). Tied
topics form composite jobs of falling worth a minute (Sidney, Operations Research 23, 1975; Horn, SIAM Journal
on Applied Mathematics 23, 1972), each ordered by going through the sets of it that can stand first (Held &
Karp, Journal of the Society for Industrial and Applied Mathematics 10, 1962). Every best order keeps the
smallest such composites together, so that of equal orders the first by the static order is found too.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from oneonone.planner.gaps import Placement
from oneonone.planner.knapsack import Budget
from oneonone.planner.problem import Problem, bits

RANK_SHIFT = 60
"""Bits between the weights of two ranks: more than worth times minutes of a whole meeting can have."""

MOST_SETS = 5_000
"""Sets that are gone through for one group of tied topics at most."""


def in_order(placement: Placement, ranks: Mapping[int, int], budget: Budget) -> list[list[int]]:
    """The order of each gap, an agreed topic first."""
    problem, lines = placement.problem, []
    for g, gap in enumerate(placement.gaps):
        topics = sorted(i for i, at in placement.gap_of.items() if at == g and i != gap.agreed)
        ahead = {i: {j for j in problem.needs[i] if j in topics} for i in topics}
        for one, other in problem.pairs:
            if other in ahead and one in ahead:
                ahead[other].add(one)
        weight = {i: problem.worth[i] << RANK_SHIFT * (2 - ranks[i]) for i in topics}
        order = Sequencing(placement.minutes, weight, ahead, budget).best()
        lines.append(order if gap.agreed is None else [gap.agreed, *order])
    return lines


@dataclass
class Sequencing:
    """One gap's topics with their minutes and weights; `ahead[i]` are those that have to stand before i."""

    minutes: Mapping[int, int]
    weight: Mapping[int, int]
    ahead: Mapping[int, set[int]]
    budget: Budget

    def best(self) -> list[int]:
        """The best order; of equal ones that with the earlier topic in the static order first."""
        found: list[list[int]] = []
        waiting = self._components(set(self.weight))
        while waiting:
            component = waiting.pop()
            found.append(self._first(component))
            waiting.extend(self._components(component.difference(found[-1])))
        return self._merged(found)

    def _merged(self, composites: Sequence[list[int]]) -> list[int]:
        """By falling weight a minute; of equal ones that may come next the one that begins earliest."""
        left = sorted(composites, key=lambda line: (-self._ratio(line), line[0]))
        done: list[int] = []
        while left:
            here = next(line for line in left if self._needed(line) <= {*done, *line})
            left.remove(here)
            done.extend(here)
        return done

    def _ratio(self, line: Sequence[int]) -> Fraction:
        return Fraction(sum(self.weight[i] for i in line), sum(self.minutes[i] for i in line))

    def _needed(self, topics: Iterable[int]) -> set[int]:
        return set[int]().union(*(self.ahead[i] for i in topics))

    def _components(self, topics: set[int]) -> list[set[int]]:
        """Groups of topics that are tied to each other."""
        if not self._needed(topics):
            return [{i} for i in topics]
        found: list[set[int]] = []
        for i in sorted(topics):
            near = {i} | self.ahead[i] & topics
            joined = [group for group in found if group & near]
            found = [group for group in found if not group & near]
            found.append(near.union(*joined))
        return found

    def _first(self, component: set[int]) -> list[int]:
        """The smallest set of the highest weight a minute that can stand first, in its best order."""
        members = sorted(component)
        if len(members) == 1:
            return members
        place = {i: k for k, i in enumerate(members)}
        before = [sum(1 << place[j] for j in self.ahead[i] & component) for i in members]
        sets = self._sets(members, before)
        if sets is None:
            return self._guessed(component)
        best, best_weight, best_minutes = 0, 0, 1
        for one, (weight, minutes) in sets.items():
            gain = weight * best_minutes - best_weight * minutes
            if gain > 0 or (gain == 0 and one.bit_count() < best.bit_count()):
                best, best_weight, best_minutes = one, weight, minutes
        return [members[k] for k in self._ordered(best, sets, members, before)]

    def _sets(self, members: Sequence[int], before: Sequence[int]) -> dict[int, tuple[int, int]] | None:
        """Every set that can stand first, with its weight and minutes; None if there are too many."""
        found, layer = {0: (0, 0)}, [0]
        while layer:
            following = []
            for one in layer:
                weight, minutes = found[one]
                for k, needed in enumerate(before):
                    grown = one | 1 << k
                    if grown not in found and needed & ~one == 0:
                        found[grown] = weight + self.weight[members[k]], minutes + self.minutes[members[k]]
                        following.append(grown)
            if len(found) > MOST_SETS or not self.budget.spend(len(following)):
                return None
            layer = following
        return found

    def _ordered(
        self, whole: int, sets: Mapping[int, tuple[int, int]], members: Sequence[int], before: Sequence[int]
    ) -> list[int]:
        """The best order of one such set, by what each smaller one leaves to be done."""
        rest, step = {whole: 0}, dict[int, int]()
        inside = [one for one in sets if one & ~whole == 0 and one != whole]
        for one in sorted(inside, key=int.bit_count, reverse=True):
            clock = sets[one][1]
            rest[one], step[one] = min(
                (self.weight[members[k]] * (clock + self.minutes[members[k]]) + rest[one | 1 << k], k)
                for k in bits(whole & ~one)
                if before[k] & ~one == 0
            )
        line, one = list[int](), 0
        while one != whole:
            line.append(step[one])
            one |= 1 << step[one]
        return line

    def _guessed(self, component: set[int]) -> list[int]:
        """A fair order of too large a group: of what may come next the most weight a minute."""
        line: list[int] = []
        while len(line) < len(component):
            free = [i for i in component.difference(line) if (self.ahead[i] & component).issubset(line)]
            line.append(max(free, key=lambda i: (self._ratio([i]), -i)))
        cost, bound = self._cost(line), self._cost(sorted(line, key=lambda i: -self._ratio([i])))
        self.budget.unproven += max(Fraction(cost - bound, cost), Fraction(1, cost))
        return line

    def _cost(self, line: Sequence[int]) -> int:
        clock = total = 0
        for i in line:
            clock += self.minutes[i]
            total += self.weight[i] * clock
        return total


def swap_sensitive(
    placement: Placement, ranks: Mapping[int, int], lines: Sequence[list[int]]
) -> dict[int, int]:
    """A sensitive topic that opens the meeting, and next one that ends it, changes places if it can.

    It does so with the nearest topic of its gap and rank that is not sensitive, agreed or at the other end,
    if `after` and the order allow. Changes the lines; gives each topic moved with the one it moved for.
    """
    items, changed = placement.problem.items, dict[int, int]()
    for end in (0, -1):
        filled = [line for line in lines if line]
        if not filled:
            break
        line, ends = filled[end], (filled[0][0], filled[-1][-1])
        i = line[end]
        if not items[i].sensitive or placement.heads(i):
            continue
        for j in line[1:] if end == 0 else line[-2::-1]:
            if ranks[j] == ranks[i] and not (items[j].sensitive or placement.heads(j) or j in ends):
                swapped = [{i: j, j: i}.get(k, k) for k in line]
                if _allowed(placement.problem, swapped):
                    line[:] = swapped
                    changed |= {i: j, j: i}
                break
    return changed


def _allowed(problem: Problem, line: Sequence[int]) -> bool:
    """Whether a gap's order keeps `after` and the pairs, but for pairs that an agreed topic breaks anyway."""
    place = {i: k for k, i in enumerate(line)}
    ties = [(j, i) for i in line for j in problem.needs[i]]
    ties.extend((one, other) for one, other in problem.pairs if problem.start[other] is None)
    return all(place[one] < place[other] for one, other in ties if one in place and other in place)
