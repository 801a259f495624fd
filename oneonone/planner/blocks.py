"""The cheapest order of positions by pair costs: blocks that go in a circle, one by one.

Where the cheaper way round of every pair, or the one that has to be, forms no circle, that is the answer.
Each circle is a block of its own: split into modules, answered by its strings where they keep every rule,
else searched over sets, best bound first.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush

from oneonone.planner.modules import modules
from oneonone.planner.pairs import Pairs
from oneonone.planner.problem import bits
from oneonone.planner.strings import Strings

STATES = 4_000
"""Sets opened in one block before the search stops with what it has; the gap is then stated."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Positions in order, their pair costs, and a lower bound on those."""

    line: tuple[int, ...]
    cost: int
    bound: int


def _pairwise(table: Pairs, members: int) -> int:
    """The cheaper allowed way round of every pair, summed."""
    inside, cheaper = bits(members), table.cheaper
    return sum([cheaper[a][b] for place, a in enumerate(inside) for b in inside[place + 1 :]])


def ordered(table: Pairs, members: int) -> Answer:
    """The cheapest order of some positions: blocks of the tournament of cheaper ways round, one by one."""
    if table.plain:
        falling = [a for a in table.falling if members >> a & 1]
        if table.allowed(falling):
            total = table.total(falling)
            return Answer(tuple(falling), total, total)
    inside, cost, behind = bits(members), table.cost, table.behind
    wins = {a: behind[a] & members for a in inside}
    for place, a in enumerate(inside):
        for b in inside[place + 1 :]:
            if behind[a] >> b & 1 or behind[b] >> a & 1:
                continue
            if cost[a][b] <= cost[b][a]:
                wins[a] |= 1 << b
            else:
                wins[b] |= 1 << a
    ranked = sorted(inside, key=lambda a: (-wins[a].bit_count(), a))
    line: list[int] = []
    short = beaten = block = 0
    for place, a in enumerate(ranked):
        block |= 1 << a
        beaten += wins[a].bit_count()
        if beaten == place * (place + 1) // 2 + (place + 1) * (len(ranked) - place - 1):
            if block == 1 << a:
                line.append(a)
            else:
                part = _Block(table, block).answer()
                line.extend(part.line)
                short += part.cost - part.bound
            block = 0
    total = table.total(line)
    return Answer(tuple(line), total, total - short)


class _Block:
    """One block: a set of positions whose cheaper ways round go in a circle."""

    def __init__(self, table: Pairs, members: int) -> None:
        self.table = table
        self.members = members
        self.inside = bits(members)
        self.strings = Strings(table, members)

    @cached_property
    def ahead(self) -> dict[int, int]:
        """For each position, those it has to follow."""
        behind = self.table.behind
        return {a: sum(1 << b for b in self.inside if behind[b] >> a & 1) for a in self.inside}

    def answer(self) -> Answer:
        if len(self.inside) == 1:
            return Answer((self.inside[0],), 0, 0)
        line = self.strings.line()
        total = self.table.total(line) if self.table.allowed(line) else None
        if total is not None and (self.table.plain or total == self.strings.least(self.members)):
            return Answer(tuple(line), total, total)
        root = self._least(self.members)
        if total == root:
            return Answer(tuple(line), root, root)
        parts = self._parts()
        if len(parts) > 1:
            return self._joined(parts)
        line = self._moved(self._greedy())
        found = self.table.total(line)
        if found == root:
            return Answer(tuple(line), root, root)
        return self._searched(tuple(line), found, root)

    def _parts(self) -> list[int]:
        """The modules, if pairs cost nothing but minutes times worth."""
        return modules(self.table, self.members, self.ahead) if self.table.plain else [self.members]

    def _joined(self, parts: Sequence[int]) -> Answer:
        """The modules one after another, each in its cheapest order."""
        line: list[int] = []
        short = 0
        for part in parts:
            answer = _Block(self.table, part).answer()
            line.extend(answer.line)
            short += answer.cost - answer.bound
        total = self.table.total(line)
        return Answer(tuple(line), total, total - short)

    def _least(self, left: int) -> int:
        return max(self.strings.least(left), _pairwise(self.table, left))

    def _searched(self, line: tuple[int, ...], found: int, root: int) -> Answer:
        """Sets of topics already placed, best bound first.

        Costs are counted beyond the cheaper way round of every pair.
        """
        floor = _pairwise(self.table, self.members)
        excess = self._excess()
        goal = found - floor
        heap: list[tuple[int, int, tuple[int, ...], int, int]] = [(root - floor, 0, (), self.members, 0)]
        spent_on: dict[int, int] = {self.members: 0}
        least: dict[int, int] = {0: 0}
        states = 0
        while heap:
            bound, _, so_far, left, spent = heappop(heap)
            if bound >= goal:
                return Answer(line, found, found)
            if spent > spent_on[left]:
                continue
            if not left:
                return Answer(so_far, spent + floor, spent + floor)
            states += 1
            if states > STATES:
                return Answer(line, found, bound + floor)
            for a, rest in self._following(left):
                more = spent + sum([cost for bit, cost in excess[a] if rest & bit])
                if more >= spent_on.get(rest, goal):
                    continue
                if rest not in least:
                    least[rest] = max(0, self.strings.least(rest) - _pairwise(self.table, rest))
                if more + least[rest] < goal:
                    spent_on[rest] = more
                    heappush(heap, (more + least[rest], -len(so_far), (*so_far, a), rest, more))
        return Answer(line, found, found)

    def _following(self, left: int) -> Iterator[tuple[int, int]]:
        """Each position that can come next, and what is left then."""
        return ((a, left & ~(1 << a)) for a in self.inside if left >> a & 1 and not self.ahead[a] & left)

    def _excess(self) -> dict[int, list[tuple[int, int]]]:
        """For each position, (bit, cost beyond the cheaper way round) of those it had better follow."""
        cost = self.table.cost
        return {
            a: [
                (1 << b, more)
                for b in self.inside
                if b != a and (more := cost[a][b] - self.table.cheaper[a][b]) > 0
            ]
            for a in self.inside
        }

    def _greedy(self) -> list[int]:
        """A first order: always the free topic that loses least against those still waiting."""
        cost, line, left = self.table.cost, list[int](), self.members
        while left:
            waiting = bits(left)
            free = [a for a in waiting if not self.ahead[a] & left]
            a = min(free, key=lambda a: (sum(cost[a][b] - cost[b][a] for b in waiting), a))
            line.append(a)
            left &= ~(1 << a)
        return line

    def _moved(self, line: list[int]) -> list[int]:
        """The order after moving single topics to better places as long as that saves anything."""
        improved = True
        while improved:
            improved = False
            for a in list(line):
                place = line.index(a)
                shift = self._best_shift(line, place)
                if shift:
                    line.insert(place + shift, line.pop(place))
                    improved = True
        return line

    def _best_shift(self, line: Sequence[int], place: int) -> int:
        """How many places to move a topic (negative: forward) to save most; 0 if nothing is saved."""
        cost, a = self.table.cost, line[place]
        best = shift = 0
        for step in (-1, 1):
            saved, at = 0, place + step
            while 0 <= at < len(line):
                b = line[at]
                one, other = (b, a) if step < 0 else (a, b)
                if self.table.behind[one] >> other & 1:
                    break
                saved += cost[one][other] - cost[other][one]
                if saved > best:
                    best, shift = saved, at - place
                at += step
        return shift
