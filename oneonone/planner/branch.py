"""The best set of topics under every rule at once: branch and bound on the linear relaxation.

Land & Doig (Econometrica 28, 1960). Rules enter the program when its answer breaks them (Dantzig, Fulkerson &
Johnson, Operations Research 2, 1954); its prices, rounded to whole numbers, give an exact bound, and with it
topics that cannot be otherwise are settled (Crowder, Johnson & Padberg, Operations Research 31, 1983). What a
set is worth, and whether it can be placed, is asked from outside.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from oneonone.planner.fit import Offer
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE, Rule, need_rule, priced
from oneonone.planner.simplex import Program

NODES = 6000
"""Branches opened before the search stops with what it has."""

ALMOST, CLEARLY = 1e-6, 1e-4
"""By so much a part of a topic, or a count of minutes, must differ to be told apart."""

Broken = tuple[Rule | None, Mapping[int, float], float]
"""A rule, its row in the program, and its bound."""


@dataclass(slots=True)
class Node:
    """A part of all sets: those that hold `inside` and nothing of `outside`."""

    program: Program
    rules: tuple[Rule | None, ...]
    inside: int
    outside: int
    bound: int


@dataclass
class Branching:
    """Sets worth more than `best` under `rules`, the room first, and `lazy` ones, many and seldom broken.

    `worth(set, best, offer)` is (the set's worth if that is more than best, else None; whether that is sure),
    and `admits(set)` whether a set can be part of any answer. `bound` is an upper bound on every set.
    """

    problem: Problem
    alive: Sequence[int]
    rules: Sequence[Rule]
    lazy: Sequence[Rule]
    worth: Callable[[int, int, Offer], tuple[int | None, bool]]
    admits: Callable[[int], bool]
    best: int = -1
    nodes: int = 0
    most_nodes: int = NODES
    bound: int = -1
    known: dict[int, bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        problem, alive = self.problem, self.alive
        self.column = {i: k for k, i in enumerate(alive)}
        self.stretch: dict[int, int] = {}
        self.minutes: dict[int, int] = {}
        self.more: dict[int, int] = {}
        gain: list[float] = []
        for i in alive:
            least, spread = problem.items[i].least, problem.gain[i]
            longer = len(spread) - 1
            concave = spread[0] * (least + longer) >= spread[-1] * least
            self.minutes[i] = least if concave else least + longer
            self.more[i] = longer if concave else -longer
            gain.append(spread[0] if concave else spread[-1])
        for i in alive:
            if self.more[i]:
                self.stretch[i] = len(gain)
                change = problem.gain[i][-1] - problem.gain[i][0]
                gain.append(change if self.more[i] > 0 else -change)
        self.gain = gain
        self.after = {i: sum(1 << j for j in alive if problem.before[j] >> i & 1) for i in alive}
        self.needs = [
            (self.column[i], self.column[j], need_rule(i, j)) for i in alive for j in problem.direct[i]
        ]
        self.listed = (*self.rules, *self.lazy)
        self.rows: dict[int, dict[int, float]] = {}

    def run(self) -> None:
        """Search until nothing better is left, or the nodes run out."""
        program = Program(self.gain)
        for rule in self.rules:
            program.add(self._row(rule), rule.bound)
        everything = sum(1 << i for i in self.alive)
        root = Node(program, tuple(self.rules), 0, 0, -1)
        self._settle(root, self.problem.must & everything, 0)
        root.bound = 1 << 80
        stack = [root]
        left = -1
        while stack:
            node = stack.pop()
            if node.bound <= self.best:
                continue
            if self.nodes >= self.most_nodes:
                left = max(left, node.bound, *(other.bound for other in stack))
                break
            self.nodes += 1
            left = max(left, self._open(node, stack))
        self.bound = max(self.best, left)

    def _row(self, rule: Rule) -> dict[int, float]:
        row: dict[int, float] = {}
        for i, once, each in rule.entries:
            row[self.column[i]] = once + each * self.minutes[i]
            if each and i in self.stretch:
                row[self.stretch[i]] = each * self.more[i]
        return row

    def _settle(self, node: Node, inside: int, outside: int) -> None:
        """Settle topics, with what they need or what needs them."""
        for i in bits(inside & ~node.inside):
            inside |= self.problem.before[i]
        for i in bits(outside & ~node.outside):
            outside |= self.after[i]
        for i in bits(inside & ~node.inside):
            node.program.fix(self.column[i], 1.0)
        for i in bits(outside & ~node.outside):
            node.program.fix(self.column[i], 0.0)
            if i in self.stretch:
                node.program.fix(self.stretch[i], 0.0)
        node.inside |= inside
        node.outside |= outside

    def _open(self, node: Node, stack: list[Node]) -> int:
        """Bound a node, try its sets, and split it; the bound of what was given up in it."""
        while True:
            if node.inside & node.outside or not self.admits(node.inside):
                return -1
            conflict = node.program.solve()
            if conflict is not None:
                if self._bounded(node, conflict, 1 << 60):
                    return -1
                break
            if self._bounded(node, node.program.prices(), 1):
                return -1
            if not self._cut(node):
                break
        return self._split(node, stack)

    def _bounded(self, node: Node, prices: Mapping[int, float], weight: int) -> bool:
        """Draw the node's bound down to what prices tell, settle topics; whether nothing better is left."""
        found = priced(self.problem, self.alive, self._exact(node, prices, weight))
        total = found.fixed
        for i, surplus in found.surplus.items():
            if node.inside >> i & 1 or (surplus > 0 and not node.outside >> i & 1):
                total += surplus
        node.bound = min(node.bound, total // FINE)
        if node.bound <= self.best:
            return True
        if weight > 1:
            return False
        spare = total - (self.best + 1) * FINE
        inside = outside = 0
        for i, surplus in found.surplus.items():
            if surplus > spare:
                inside |= 1 << i
            elif -surplus > spare:
                outside |= 1 << i
        inside &= ~(node.inside | node.outside)
        outside &= ~(node.inside | node.outside)
        if inside or outside:
            self._settle(node, inside, outside)
        return bool(node.inside & node.outside)

    def _cut(self, node: Node) -> bool:
        """Add the rules that the answer breaks; whether there were any, or something is out of its bounds."""
        value = node.program.value
        broken = self._broken_ties(value) or self._broken(range(len(self.listed)), value)
        for rule, row, bound in broken:
            node.program.add(row, bound)
            node.rules = (*node.rules, rule)
        return bool(broken) or not node.program.solved

    def _broken_ties(self, value: Sequence[float]) -> list[Broken]:
        """Rules of few topics: needs, no stretch of what is not chosen, and those given from the start."""
        found: list[Broken] = [
            (rule, {i: 1.0, j: -1.0}, 0.0) for i, j, rule in self.needs if value[i] > value[j] + ALMOST
        ]
        for i, k in self.stretch.items():
            at = self.column[i]
            if value[k] > value[at] + ALMOST:
                found.append((None, {k: 1.0, at: -1.0}, 0.0))
        return found + self._broken(range(len(self.rules)), value)

    def _broken(self, among: Iterable[int], value: Sequence[float]) -> list[Broken]:
        found: list[Broken] = []
        for k in among:
            rule, row = self.listed[k], self.rows.get(k)
            if row is None:
                row = self.rows[k] = self._row(rule)
            if sum([a * value[j] for j, a in row.items()]) > rule.bound + CLEARLY:
                found.append((rule, row, rule.bound))
        return found

    def _split(self, node: Node, stack: list[Node]) -> int:
        value, column = node.program.value, self.column
        settled = node.inside | node.outside
        waiting = [i for i in self.alive if not settled >> i & 1]
        loose = [i for i in waiting if ALMOST < value[column[i]] < 1 - ALMOST]
        if not loose:
            self._try(node.inside | sum(1 << i for i in waiting if value[column[i]] > ALMOST), node)
        elif self.nodes == 1:
            self._try(self._rounded(node, waiting), node)
            if self._bounded(node, node.program.prices(), 1):
                return -1
            loose = [i for i in loose if not (node.inside | node.outside) >> i & 1]
            waiting = [i for i in waiting if not (node.inside | node.outside) >> i & 1]
        if node.bound <= self.best:
            return -1
        if not waiting:
            return -1 if self._try(node.inside, node) else node.bound
        if loose:
            at = max(loose, key=lambda i: (self._undecided(i, value[column[i]]), -i))
        else:
            at = max(waiting, key=lambda i: (value[column[i]], self.problem.gain[i][-1], -i))
        halves = []
        for inside, outside in ((0, 1 << at), (1 << at, 0)):
            half = Node(node.program.copy(), node.rules, node.inside, node.outside, node.bound)
            self._settle(half, inside, outside)
            halves.append(half)
        if value[column[at]] < 0.5:
            halves.reverse()
        stack.extend(halves)
        return -1

    def _undecided(self, i: int, part: float) -> float:
        """By how many minutes a topic taken in part is away from being in or out."""
        return min(part, 1 - part) * self.problem.items[i].least

    def _rounded(self, node: Node, waiting: Sequence[int]) -> int:
        """A set near the answer: topics by the part that is taken of them, as long as all fit the room."""
        value, items, chosen = node.program.value, self.problem.items, node.inside
        for i in sorted(waiting, key=lambda i: (-value[self.column[i]], i)):
            more = chosen | 1 << i | self.problem.before[i]
            fits = sum(items[j].least for j in bits(more)) <= self.rules[0].bound
            if fits and not more & node.outside and self.admits(more):
                chosen = more
        return chosen

    def _try(self, chosen: int, node: Node) -> bool:
        """Ask what a set is worth; whether that is sure."""
        if chosen not in self.known:
            offer = self._offer(chosen, node)
            value, sure = (None, True) if offer is None else self.worth(chosen, self.best, offer)
            self.known[chosen] = sure
            if value is not None:
                self.best = value
        return self.known[chosen]

    def _offer(self, chosen: int, node: Node) -> Offer | None:
        """The prices for this very set; None if they show that it is worth no more than the best."""
        everything = sum(1 << i for i in self.alive)
        leaf = Node(node.program.copy(), node.rules, node.inside, node.outside, node.bound)
        self._settle(leaf, chosen, everything & ~chosen)
        prices: Mapping[int, float] = {}
        while True:
            conflict = leaf.program.solve()
            if conflict is not None:
                if self._bounded(leaf, conflict, 1 << 60):
                    return None
                break
            prices = leaf.program.prices()
            if self._bounded(leaf, prices, 1):
                return None
            if not self._cut(leaf):
                break
        exact = self._exact(leaf, prices, 1)
        found = priced(self.problem, self.alive, exact)
        ceiling = found.fixed + sum(found.surplus[i] for i in bits(chosen))
        room, *floors = (round(prices.get(k, 0.0) * FINE) for k in range(len(self.rules)))
        return Offer(ceiling, found.each, room, floors)

    def _exact(self, node: Node, prices: Mapping[int, float], weight: int) -> list[tuple[Rule, int]]:
        return [
            (rule, round(price * FINE) * weight) for k, price in prices.items() if (rule := node.rules[k])
        ]
