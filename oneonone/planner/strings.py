"""The cheapest order of a forest, and with it a lower bound when topics have several predecessors.

In a forest a topic that is denser (more worth a minute) than the one it has to follow is best taken right
behind it; merging such topics into strings of falling density, branch by branch, gives the cheapest order
(Horn, SIAM Journal on Applied Mathematics 23, 1972; Sidney, Operations Research 23, 1975).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from oneonone.planner.pairs import Pairs
from oneonone.planner.problem import bits

DENSE = 1 << 24
"""More than the square of a day's minutes: in whole numbers of this part, densities can be told apart."""


@dataclass(frozen=True, slots=True)
class String:
    """Topics taken in one go: positions, minutes, worth, and what they cost one another."""

    line: tuple[int, ...]
    minutes: int
    worth: int
    inner: int

    def then(self, other: "String") -> "String":
        return String(
            self.line + other.line,
            self.minutes + other.minutes,
            self.worth + other.worth,
            self.inner + other.inner + self.minutes * other.worth,
        )

    @property
    def falling(self) -> tuple[int, tuple[int, ...]]:
        """Sorted by this, denser strings come first."""
        return -self.worth * DENSE // self.minutes, self.line


Ranked = tuple[int, int, int, int, String]
"""A string with its rank by density, minutes, worth and inner cost."""


class Strings:
    """The strings of every branch of some positions; of several predecessors one is kept as the parent."""

    def __init__(self, table: Pairs, members: int) -> None:
        self._inside = bits(members)
        ahead: dict[int, list[int]] = {a: [] for a in self._inside}
        for b in self._inside:
            for a in bits(table.behind[b] & members):
                ahead[a].append(b)
        upward = sorted(self._inside, key=lambda a: (len(ahead[a]), a))
        self._children: dict[int, list[int]] = {}
        for a in upward:
            if ahead[a]:
                parent = max(ahead[a], key=lambda b: (len(ahead[b]), -b))
                self._children.setdefault(parent, []).append(a)
        self._branch: dict[int, list[String]] = {}
        for a in reversed(upward):
            self._branch[a] = self._merged(table, a, self._children.get(a, []))
        self._above = {child: a for a, below in self._children.items() for child in below}

    @cached_property
    def _falling(self) -> list[String]:
        known = {string for branch in self._branch.values() for string in branch}
        return sorted(known, key=lambda s: s.falling)

    @cached_property
    def _ranked(self) -> dict[int, list[Ranked]]:
        rank = {string.line: place for place, string in enumerate(self._falling)}
        return {
            a: [(rank[s.line], s.minutes, s.worth, s.inner, s) for s in branch]
            for a, branch in self._branch.items()
        }

    @cached_property
    def _parent(self) -> list[tuple[int, int]]:
        above = self._above
        return [(a, 1 << above[a] if a in above else 0) for a in self._inside]

    @cached_property
    def _flat(self) -> list[tuple[int, int, int]] | None:
        """Where nothing follows anything: position, minutes and worth of each, the densest first."""
        return None if self._children else [(s.line[0], s.minutes, s.worth) for s in self._falling]

    @cached_property
    def _trees(self) -> list[tuple[int, dict[int, list[Ranked]]]]:
        """The positions of every tree, and the strings of what may be left of it, once known."""
        found = []
        for root in self._inside:
            if root in self._above:
                continue
            mask, waiting = 0, [root]
            while waiting:
                a = waiting.pop()
                mask |= 1 << a
                waiting.extend(self._children.get(a, ()))
            found.append((mask, dict[int, list[Ranked]]()))
        return found

    def _merged(self, table: Pairs, a: int, children: Sequence[int]) -> list[String]:
        rest = [string for child in children for string in self._branch[child]]
        rest.sort(key=lambda s: s.falling)
        head = String((a,), table.minutes[a], table.worth[a], 0)
        taken = 0
        for string in rest:
            if string.worth * head.minutes <= head.worth * string.minutes:
                break
            head = head.then(string)
            taken += 1
        return [head, *rest[taken:]]

    def roots(self, left: int) -> list[int]:
        """The positions of `left` whose parent is not in it; `left` holds whole branches."""
        return [a for a, parent in self._parent if left >> a & 1 and not left & parent]

    def least(self, left: int) -> int:
        """What the pairs within `left` cost at least, mu aside."""
        clock = cost = 0
        if self._flat is not None:
            for a, minutes, worth in self._flat:
                if left >> a & 1:
                    cost += clock * worth
                    clock += minutes
            return cost
        ranked: list[Ranked] = []
        for tree, known in self._trees:
            part = left & tree
            if part:
                if part not in known:
                    known[part] = sorted(entry for root in self.roots(part) for entry in self._ranked[root])
                ranked += known[part]
        ranked.sort()
        for _, minutes, worth, inner, _ in ranked:
            cost += inner + clock * worth
            clock += minutes
        return cost

    def line(self) -> list[int]:
        """The cheapest order of all, mu aside; it may break a rule where a topic has several predecessors."""
        strings = [s for a in self._inside if a not in self._above for s in self._branch[a]]
        return [a for string in sorted(strings, key=lambda s: s.falling) for a in string.line]
