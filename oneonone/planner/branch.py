"""The best set of topics under every rule at once: branch and bound on the linear relaxation.

Land & Doig (Econometrica 28, 1960): from the branch with the best bound straight down to a set, and so on.
Topics that cannot be otherwise in anything better are settled (Crowder, Johnson & Padberg, Operations
Research 31, 1983), and with them those they need. What a set is worth, and whether it can be placed, is asked
from outside.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush

from oneonone.planner.fit import Offer
from oneonone.planner.problem import Problem, bits
from oneonone.planner.relaxation import ALMOST, Check, Node, Relaxation
from oneonone.planner.rules import FINE, Rule

NODES = 6000
"""Branches opened before the search stops with what it has."""

SOLVED = 60
"""Times a program is solved again for one branch at most."""


PUT_OFF = 8
"""Sets whose worth is not sure that are put off before one of them is asked about again."""

Worth = Callable[[int, int, Offer], tuple[int | None, bool]]


@dataclass
class Branching:
    """Sets worth more than `best` under `rules`, the room first, and `lazy` ones, many and seldom broken.

    `worth(set, best, offer)` is (the set's worth if that is more than best, else None; whether that is sure),
    and `admits(set)` whether a set can be part of any answer. What was not sure is put off, and `thorough` is
    asked the same then. `bound` is an upper bound on every set: it is `best` when the search has ended, and
    more when it was cut or an answer that could be better is not sure.

    `first` topics are decided on before others; with a topic, those that are `better` are in. `beside(set)`
    tells which topics have no place beside a set that is in, with rules that then hold, and `settled(set)`
    the rules for nothing but that set, or None if it has no place.
    """

    problem: Problem
    alive: Sequence[int]
    rules: Sequence[Rule]
    lazy: Sequence[Rule]
    worth: Worth
    admits: Callable[[int], bool]
    best: int = -1
    nodes: int = 0
    most_nodes: int = NODES
    bound: int = -1
    first: int = 0
    better: Mapping[int, int] = field(default_factory=dict)
    beside: Callable[[int], tuple[int, Sequence[Rule]]] | None = None
    settled: Callable[[int], Sequence[Rule] | None] | None = None
    thorough: Worth | None = None
    known: set[int] = field(default_factory=set)
    unsure: dict[int, tuple[int, Offer]] = field(default_factory=dict)
    left: int = -1

    def __post_init__(self) -> None:
        self.everything = sum(1 << i for i in self.alive)
        self.required = self._required()
        self.after = dict.fromkeys(self.alive, 0)
        for j, required in self.required.items():
            for i in bits(required & self.everything):
                self.after[i] |= 1 << j
        self.relaxation = Relaxation(self.problem, self.alive, self.rules, self.lazy, self.required)
        self.checks: dict[int, tuple[Sequence[Rule], Sequence[Check]]] = {}

    def _required(self) -> dict[int, int]:
        """For each topic, all that have to be in with it."""
        required = {i: self.problem.before[i] | self.better.get(i, 0) for i in self.alive}
        for j in self.alive:
            if required[j]:
                for i in self.alive:
                    if required[i] >> j & 1:
                        required[i] |= required[j]
        return required

    def run(self) -> None:
        """Search until nothing better is left, or the nodes run out."""
        root = self.relaxation.root()
        self._settle(root, self.problem.must & self.everything, 0)
        waiting: list[tuple[int, int, Node]] = []
        halves = [root]
        while halves or waiting:
            node = halves.pop() if halves else heappop(waiting)[2]
            for other in halves:
                heappush(waiting, (-other.bound, -self.nodes, other))
            halves = []
            if node.bound <= self.best:
                continue
            if self.nodes >= self.most_nodes:
                self.left = max(self.left, node.bound, *(other.bound for _, _, other in waiting))
                break
            self.nodes += 1
            halves = self._open(node)
        while self.unsure and self.thorough is not None:
            self.left = max(self.left, self._ask_again())
        self.bound = max(self.best, self.left, *(bound for bound, _ in self.unsure.values()))

    def _settle(self, node: Node, inside: int, outside: int) -> None:
        """Settle topics, with what they need or what needs them."""
        for i in bits(inside & ~node.inside):
            inside |= self.required[i]
        for i in bits(outside & ~node.outside):
            outside |= self.after[i]
        for i in bits(inside & ~node.inside):
            self.relaxation.fix(node.program, i, taken=True)
        for i in bits(outside & ~node.outside):
            self.relaxation.fix(node.program, i, taken=False)
        node.inside |= inside
        node.outside |= outside

    def _open(self, node: Node) -> list[Node]:
        """Bound a node, try its sets, and split it into halves if anything better may be left in it."""
        for _ in range(SOLVED):
            if node.inside & node.outside or not self.admits(node.inside) or not self._narrowed(node):
                return []
            conflict = node.program.solve()
            if conflict is not None:
                if self._bounded(node, conflict, 1 << 60):
                    return []
                break
            if self._bounded(node, node.program.prices(), 1):
                return []
            if not self.relaxation.cut(node):
                break
        return self._split(node)

    def _narrowed(self, node: Node) -> bool:
        """Leave out what has no place beside the topics that are in, and take up rules that then hold."""
        if self.beside is not None and node.narrowed != node.inside:
            node.narrowed = node.inside
            dead, rules = self.beside(node.inside)
            if id(rules) not in self.checks:
                self.checks[id(rules)] = rules, self.relaxation.checked(rules)
            node.here = self.checks[id(rules)][1]
            if dead & ~node.outside:
                self._settle(node, 0, dead)
        return not node.inside & node.outside

    def _bounded(self, node: Node, prices: Mapping[int, float], weight: int) -> bool:
        """Draw the node's bound down to what prices tell, settle topics; whether nothing better is left."""
        total, surplus, _ = self.relaxation.priced(node, prices, weight)
        for i, more in surplus.items():
            if more > 0 or node.inside >> i & 1:
                total += more
        node.bound = min(node.bound, total // FINE)
        if node.bound <= self.best:
            return True
        if weight > 1:
            return False
        spare = total - (self.best + 1) * FINE
        inside = outside = 0
        for i, more in surplus.items():
            if more > spare:
                inside |= 1 << i
            elif -more > spare:
                outside |= 1 << i
        inside &= ~node.inside
        outside &= ~node.inside
        if inside or outside:
            self._settle(node, inside, outside)
        return bool(node.inside & node.outside)

    def _split(self, node: Node) -> list[Node]:
        """Try the set that the answer points to, then divide the node at one topic."""
        value, column = node.program.value, self.relaxation.column
        waiting = self._waiting(node)
        loose = [i for i in waiting if ALMOST < value[column[i]] < 1 - ALMOST]
        if not loose:
            self._try(node.inside | sum(1 << i for i in waiting if value[column[i]] > ALMOST), node)
        elif self.nodes == 1:
            self._try(self._rounded(node, waiting), node)
            if self._bounded(node, node.program.prices(), 1):
                return []
            waiting = self._waiting(node)
            loose = [i for i in loose if i in waiting]
        if node.bound <= self.best:
            return []
        if not waiting:
            self._try(node.inside, node)
            return []
        at = self._decisive(value, waiting, loose)
        out, taken = node.copy(), node.copy()
        self._settle(out, 0, 1 << at)
        self._settle(taken, 1 << at, 0)
        return [out, taken] if value[column[at]] >= 0.5 else [taken, out]

    def _waiting(self, node: Node) -> list[int]:
        settled = node.inside | node.outside
        return [i for i in self.alive if not settled >> i & 1]

    def _decisive(self, value: Sequence[float], waiting: Sequence[int], loose: Sequence[int]) -> int:
        """The topic to divide at: one to be decided first, else one in doubt for most minutes."""
        column = self.relaxation.column
        first = [i for i in waiting if self.first >> i & 1 and value[column[i]] > ALMOST]
        if first:
            return max(first, key=lambda i: (value[column[i]], -i))
        if loose:
            return max(loose, key=lambda i: (self._undecided(i, value[column[i]]), -i))
        return max(waiting, key=lambda i: (value[column[i]], self.problem.gain[i][-1], -i))

    def _undecided(self, i: int, part: float) -> float:
        """By how many minutes a topic taken in part is away from being in or out."""
        return min(part, 1 - part) * self.problem.items[i].least

    def _rounded(self, node: Node, waiting: Sequence[int]) -> int:
        """A set near the answer: topics by the part that is taken of them, as long as all fit the room."""
        value, items, chosen = node.program.value, self.problem.items, node.inside
        column, room = self.relaxation.column, self.rules[0].bound
        for i in sorted(waiting, key=lambda i: (-value[column[i]], i)):
            more = chosen | 1 << i | self.required[i]
            fits = sum(items[j].least for j in bits(more)) <= room
            if fits and not more & node.outside and self.admits(more):
                chosen = more
        return chosen

    def _try(self, chosen: int, node: Node) -> None:
        """Ask what a set is worth, if that has not been asked before."""
        if chosen in self.known:
            return
        self.known.add(chosen)
        offer = self._offer(chosen, node)
        if offer is None:
            return
        value, sure = self.worth(chosen, self.best, offer)
        if value is not None:
            self.best = value
        if not sure:
            self.unsure[chosen] = offer.ceiling // FINE, offer
            if len(self.unsure) >= PUT_OFF and self.thorough is not None:
                self.left = max(self.left, self._ask_again())

    def _ask_again(self) -> int:
        """Ask about the most promising of the sets that were put off; its bound if that is still not sure."""
        chosen = max(self.unsure, key=lambda chosen: (self.unsure[chosen][0], -chosen))
        bound, offer = self.unsure.pop(chosen)
        if bound <= self.best or self.thorough is None:
            return -1
        value, sure = self.thorough(chosen, self.best, offer)
        if value is not None:
            self.best = value
        return -1 if sure else bound

    def _offer(self, chosen: int, node: Node) -> Offer | None:
        """The prices for this very set; None if they show that it is worth no more than the best."""
        leaf, relaxation = node.copy(), self.relaxation
        self._settle(leaf, chosen, self.everything & ~chosen)
        if self.settled is not None:
            rules = self.settled(chosen)
            if rules is None:
                return None
            leaf.here = relaxation.checked(rules)
        prices: Mapping[int, float] = {}
        for _ in range(SOLVED):
            conflict = leaf.program.solve()
            if conflict is not None:
                if self._bounded(leaf, conflict, 1 << 60):
                    return None
                break
            prices = leaf.program.prices()
            if self._bounded(leaf, prices, 1):
                return None
            if not relaxation.cut(leaf):
                break
        fixed, surplus, each = relaxation.priced(leaf, prices, 1)
        ceiling = fixed + sum(surplus[i] for i in bits(chosen))
        room, *floors = (round(prices.get(k, 0.0) * FINE) for k in range(len(self.rules)))
        return Offer(ceiling, each, room, floors)
