"""Prices of the rules at which topics, each decided by itself, bring as little as can be.

Such prices are the dual of the linear relaxation; any others give a bound too, only a weaker one. Where every
topic needs at most one other and the room is the only rule, a single price is enough: needs then price
themselves, each topic handing what it brings to the one it needs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, bits, upward
from oneonone.planner.relaxation import Relaxation
from oneonone.planner.rules import FINE, floor_rule, room_rule

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
    rules = [room_rule(topics, room), *(floor_rule(floor, topics) for floor in floors)]
    relaxation = Relaxation(problem, topics, rules, (), dict(enumerate(problem.before)), _whole(problem))
    node = relaxation.root()
    for i in bits(problem.must):
        relaxation.fix(node.program, i, True)
    while (conflict := node.program.solve()) is None and relaxation.tie(node):
        pass
    dual, fine = (node.program.prices(), FINE) if conflict is None else (conflict, CERTAIN)
    whole = {k: round(price * fine) for k, price in dual.items()}
    needs = {
        (rule.entries[0][0], rule.entries[1][0]): whole[k]
        for k, rule in enumerate(node.rules)
        if rule is not None and k >= len(rules) and k in whole
    }
    return Prices(whole.get(0, 0), tuple(whole.get(k, 0) for k in range(1, len(rules))), needs)


def _whole(problem: Problem) -> int:
    """Topics for which prices never make the least useful minutes the best length.

    Those are worth less a minute than all that is wanted, and the topic is neither must-discuss nor needed
    (upper hull: Sinha & Zoltners, Operations Research 27, 1979).
    """
    asked, found = problem.must, 0
    for before in problem.before:
        asked |= before
    for i, (item, gain) in enumerate(zip(problem.items, problem.gain, strict=True)):
        if gain[0] * (item.least + len(gain) - 1) < gain[-1] * item.least and not asked >> i & 1:
            found |= 1 << i
    return found
