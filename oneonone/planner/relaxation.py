"""The linear relaxation of a choice: topics as columns, rules as rows, and exact bounds from its prices.

Rules enter a program when its answer breaks them (Dantzig, Fulkerson & Johnson, Operations Research 2, 1954).
Its prices, rounded to whole numbers, bound every choice in whole numbers (Lagrangian relaxation: Geoffrion,
Mathematical Programming Study 2, 1974).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from operator import itemgetter, mul

from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE, Rule, need_rule
from oneonone.planner.simplex import Program

ALMOST, CLEARLY = 1e-6, 1e-4
"""By so much a part of a topic, or a count of minutes, must differ to be told apart."""

Check = tuple[Rule, Callable[[Sequence[float]], tuple[float, ...]], tuple[int, ...]]
"""A rule, where its parts stand among all parts and minutes of topics, and what each of them counts."""


@dataclass(slots=True)
class Node:
    """A part of all sets: those that hold `inside` and nothing of `outside`.

    `rules` are those in the program; `here` are more that hold in this part alone, found for `narrowed`.
    """

    program: Program
    rules: tuple[Rule | None, ...]
    inside: int
    outside: int
    bound: int
    here: Sequence[Check] = ()
    narrowed: int = -1

    def copy(self) -> "Node":
        return Node(
            self.program.copy(), self.rules, self.inside, self.outside, self.bound, self.here, self.narrowed
        )


class Relaxation:
    """Columns say which part of a topic is taken, and how far it is stretched beyond its first length.

    That is the least useful one; `whole` topics are taken at all they want or not at all. `required[i]` are
    the topics that have to be in with i; `rules` stand in every program, `lazy` ones come in when broken.
    """

    def __init__(
        self,
        problem: Problem,
        alive: Sequence[int],
        rules: Sequence[Rule],
        lazy: Sequence[Rule],
        required: Mapping[int, int],
        whole: int = 0,
    ) -> None:
        self.problem, self.alive, self.rules = problem, alive, rules
        self.column = {i: k for k, i in enumerate(alive)}
        self.stretch: dict[int, int] = {}
        self.minutes: dict[int, int] = {}
        self.more: dict[int, int] = {}
        self.gain: list[float] = []
        for i in alive:
            least, gain = problem.items[i].least, problem.gain[i]
            longer = len(gain) - 1
            self.minutes[i], self.more[i] = (least + longer, 0) if whole >> i & 1 else (least, longer)
            self.gain.append(gain[-1] if whole >> i & 1 else gain[0])
        for i in alive:
            if self.more[i]:
                self.stretch[i] = len(self.gain)
                self.gain.append(problem.gain[i][-1] - problem.gain[i][0])
        self.needs = [
            (self.column[i], self.column[j], i, j) for i in alive for j in bits(_direct(required, i))
        ]
        self.lazy = lazy

    @cached_property
    def ends(self) -> dict[int, tuple[int, int, int, int]]:
        """What topics are worth at their least and their most minutes, in FINE parts, and these minutes."""
        gain, items = self.problem.gain, self.problem.items
        return {
            i: (gain[i][0] * FINE, gain[i][-1] * FINE, items[i].least, items[i].least + len(gain[i]) - 1)
            for i in self.alive
        }

    @cached_property
    def checks(self) -> tuple[list[Check], list[Check]]:
        """The rules that stand in every program, and those that come in when broken."""
        return self.checked(self.rules), self.checked(self.lazy)

    def root(self) -> Node:
        """All sets."""
        program = Program(self.gain)
        for rule in self.rules:
            program.add(self._row(rule), rule.bound)
        return Node(program, tuple(self.rules), 0, 0, 1 << 80)

    def fix(self, program: Program, i: int, taken: bool) -> None:
        """Take a topic, or leave it out."""
        program.fix(self.column[i], float(taken))
        if not taken and i in self.stretch:
            program.fix(self.stretch[i], 0.0)

    def checked(self, rules: Sequence[Rule]) -> list[Check]:
        """Rules made ready to be checked."""
        found: list[Check] = []
        nothing = 2 * len(self.alive)
        for rule in rules:
            places, counts = [nothing], [0]
            for i, once, each in rule.entries:
                at = self.column[i]
                if once:
                    places.append(at)
                    counts.append(once)
                if each:
                    places.append(len(self.alive) + at)
                    counts.append(each)
            found.append((rule, itemgetter(*places, nothing), (*counts, 0)))
        return found

    def cut(self, node: Node) -> bool:
        """Add the rules that the program's answer breaks; whether it has to be solved again."""
        program = node.program
        value = program.value
        tied = self.tie(node)
        parts = value[: len(self.alive)]
        parts += [
            value[k] * self.minutes[i] + (value[self.stretch[i]] * self.more[i] if i in self.stretch else 0.0)
            for i, k in self.column.items()
        ]
        parts.append(0.0)
        standing, lazy = self.checks
        rules = self._broken(standing, parts)
        if not tied and not rules:
            rules = self._broken(lazy, parts) or self._broken(node.here, parts)
        for rule in rules:
            program.add(self._row(rule), rule.bound)
        node.rules = (*node.rules, *rules)
        return tied or bool(rules) or not program.solved

    def tie(self, node: Node) -> bool:
        """Add the ties between columns that the program's answer breaks; whether there are any."""
        value = node.program.value
        broken: list[tuple[Rule | None, Mapping[int, float]]] = [
            (need_rule(topic, needed), {i: 1.0, j: -1.0})
            for i, j, topic, needed in self.needs
            if value[i] > value[j] + ALMOST
        ]
        for i, k in self.stretch.items():
            if value[k] > value[self.column[i]] + ALMOST:
                broken.append((None, {k: 1.0, self.column[i]: -1.0}))
        for _, row in broken:
            node.program.add(row, 0.0)
        node.rules = (*node.rules, *[rule for rule, _ in broken])
        return bool(broken)

    @staticmethod
    def _broken(checks: Sequence[Check], parts: Sequence[float]) -> list[Rule]:
        return [
            rule
            for rule, places, counts in checks
            if sum(map(mul, counts, places(parts))) > rule.bound + CLEARLY
        ]

    def _row(self, rule: Rule) -> dict[int, float]:
        row: dict[int, float] = {}
        for i, once, each in rule.entries:
            row[self.column[i]] = once + each * self.minutes[i]
            if each and i in self.stretch:
                row[self.stretch[i]] = each * self.more[i]
        return row

    def priced(
        self, node: Node, prices: Mapping[int, float], weight: int
    ) -> tuple[int, dict[int, int], list[int]]:
        """What is fixed, what topics not left out bring beyond prices, and what a minute of each costs."""
        once = [0] * self.problem.size
        each = [0] * self.problem.size
        fixed = 0
        for k, price in prices.items():
            rule, whole = node.rules[k], round(price * FINE) * weight
            if rule is not None and whole:
                fixed += whole * rule.bound
                for i, one, minute in rule.entries:
                    if minute:
                        each[i] += whole * minute
                    else:
                        once[i] += whole * one
        surplus, outside = {}, node.outside
        for i, (first, last, least, most) in self.ends.items():
            if not outside >> i & 1:
                step = each[i]
                surplus[i] = max(first - step * least, last - step * most) - once[i]
        return fixed, surplus, each


def _direct(required: Mapping[int, int], i: int) -> int:
    """Those that no other which has to be in implies."""
    found = required[i]
    for j in bits(found):
        found &= ~required[j]
    return found
