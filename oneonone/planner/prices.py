"""Prices of the rules at which topics, each decided by itself, bring as little as can be.

Such prices are the dual of the linear relaxation; any others give a bound too, only a weaker one. Where every
topic needs at most one other and the room is the only rule, a single price is enough: needs then price
themselves, each topic handing what it brings to the one it needs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from oneonone.planner.columns import ALMOST, Columns
from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, upward
from oneonone.planner.rules import FINE, floor_rule, need_rule, room_rule
from oneonone.planner.simplex import Program

CERTAIN = FINE << 40
"""Rules that together cannot be kept cost so much that nothing is worth it."""

Need = tuple[int, int]
"""A topic, and one that it needs directly."""


@dataclass(frozen=True, slots=True)
class Prices:
    """Of a minute of the room, a unit of each floor's balance, and each need, in FINE parts of worth."""

    room: int
    floors: tuple[int, ...]
    needs: Mapping[Need, int]


def prices(problem: Problem, room: int, floors: Sequence[Floor]) -> Prices:
    """The prices at which the bound on every choice is least, but for rounding."""
    if not floors and all(len(needed) < 2 for needed in problem.direct):
        return _one_price(problem, room)
    return _linear(problem, room, floors)


@dataclass(frozen=True, slots=True)
class _Tangent:
    """At one price: the worth and minutes of the topics worth their price, and what each hands on."""

    worth: int
    minutes: int
    handed: Sequence[int] = field(compare=False)


class _Forest:
    """Topics that need at most one other: (topic, needed, worth and minutes at both ends), needed last."""

    def __init__(self, problem: Problem) -> None:
        self.size = problem.size
        self.rows = []
        for i in reversed(upward(problem)):
            gain, least, needed = problem.gain[i], problem.items[i].least, problem.direct[i]
            ends = gain[0] * FINE, least, gain[-1] * FINE, least + len(gain) - 1
            self.rows.append((i, needed[0] if needed else None, *ends, problem.must >> i & 1))

    def at(self, price: int) -> _Tangent:
        below, taken, handed = [0] * self.size, [0] * self.size, [0] * self.size
        value = minutes = 0
        for i, needed, least_worth, least, most_worth, most, must in self.rows:
            surplus, used = least_worth - price * least, least
            if most_worth - price * most > surplus:
                surplus, used = most_worth - price * most, most
            surplus += below[i]
            if surplus <= 0 and not must:
                continue
            used += taken[i]
            if needed is None:
                value += surplus
                minutes += used
            else:
                handed[i] = max(0, surplus)
                below[needed] += surplus
                taken[needed] += used
        return _Tangent(value + price * minutes, minutes, handed)

    def guess(self, room: int) -> int:
        """What a minute is worth of the topic with which the room is full, taken in the static order."""
        last = self.rows[0]
        for last in sorted(self.rows):
            room -= last[5]
            if room < 0:
                break
        return last[4] // last[5]


def _one_price(problem: Problem, room: int) -> Prices:
    """The price at which topics worth it just fill the room, found by drawing two tangents together."""
    forest = _Forest(problem)
    price, found = 0, forest.at(0)
    if found.minutes > room:
        ends = [found, forest.at(CERTAIN)]
        price = forest.guess(room)
        for _ in range(2):
            found = forest.at(price)
            ends[found.minutes <= room] = found
            price = price * 9 // 8 if found.minutes > room else price * 8 // 9
        drawn_together = False
        while not drawn_together:
            low, high = ends
            price = (low.worth - high.worth) // (low.minutes - high.minutes)
            found = forest.at(price)
            drawn_together = found in ends
            ends[found.minutes <= room] = found
    needs = {
        (i, needed): found.handed[i]
        for i, needed, *_ in forest.rows
        if needed is not None and found.handed[i]
    }
    return Prices(price, (), needs)


def _linear(problem: Problem, room: int, floors: Sequence[Floor]) -> Prices:
    """The dual of the linear relaxation; of rules that cannot be kept together, a proof of that."""
    topics = range(problem.size)
    columns = Columns(problem, topics)
    program = Program(columns.gain)
    rules = [room_rule(problem, topics, room), *(floor_rule(floor, topics) for floor in floors)]
    for rule in rules:
        program.add(columns.row(rule), rule.bound)
    for i in topics:
        if problem.must >> i & 1:
            program.fix(i, 1.0)
    needs = [(i, j) for i in topics for j in problem.direct[i]]
    added: list[Need | None] = [None] * len(rules)
    while (conflict := program.solve()) is None:
        value = program.value
        broken: list[tuple[Need | None, Mapping[int, float]]] = [
            ((i, j), columns.row(need_rule(i, j))) for i, j in needs if value[i] > value[j] + ALMOST
        ]
        broken += [(None, row) for row in columns.loose_ends(value)]
        if not broken:
            break
        for need, row in broken:
            program.add(row, 0.0)
            added.append(need)
    dual = program.prices() if conflict is None else conflict
    fine = FINE if conflict is None else CERTAIN
    of_rules = [round(dual.get(k, 0.0) * fine) for k in range(len(rules))]
    of_needs = {need: round(dual[k] * fine) for k, need in enumerate(added) if need and k in dual}
    return Prices(of_rules[0], tuple(of_rules[1:]), of_needs)
