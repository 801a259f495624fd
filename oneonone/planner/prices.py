"""Prices of the rules at which topics, each decided by itself, bring as little as can be.

Such prices are the dual of the linear relaxation; any others give a bound too, only a weaker one. Where every
topic needs at most one other and the room is the only rule, a single price is enough: needs then price
themselves, each topic handing what it brings to the one it needs.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, bits
from oneonone.planner.relaxation import Relaxation
from oneonone.planner.rules import FINE, floor_rule, room_rule

CERTAIN = FINE << 40
"""Rules that together cannot be kept cost so much that nothing is worth it."""

Need = tuple[int, int]
"""A topic, and one that it needs directly."""

Step = tuple[int, int]
"""What a minute of it is worth, in FINE parts, and its minutes."""


@dataclass(frozen=True, slots=True)
class Prices:
    """Of a minute of the room, a unit of each floor's balance, and each need, in FINE parts of worth."""

    room: int
    floors: tuple[int, ...]
    needs: Mapping[Need, int]


def prices(problem: Problem, room: int, floors: Sequence[Floor]) -> Prices:
    """The prices at which the bound on every choice is least, but for rounding."""
    if not floors and all(len(needed) < 2 for needed in problem.direct):
        price = _just_full(problem, room)
        return Prices(price, (), _handed(problem, price))
    return _linear(problem, room, floors)


def _just_full(problem: Problem, room: int) -> int:
    """The price at which the steps worth it just fill the room: the best one for a forest."""
    steps, room = _steps(problem, room)
    if room < 0:
        return CERTAIN
    for worth, minutes in sorted(steps, reverse=True):
        room -= minutes
        if room < 0:
            return worth
    return 0


def _steps(problem: Problem, room: int) -> tuple[list[Step], int]:
    """What may fill the room, and the room that must-discuss topics leave to it.

    The first step of a topic is its least minutes, the next what it has beyond them, then come those of the
    topics that need it. Steps worth more a minute than the first one are taken with it (upper hull: Sinha &
    Zoltners, Operations Research 27, 1979).
    """
    found: list[Step] = []
    behind: dict[int, list[Step]] = {}
    for i in reversed(problem.upward):
        gain, minutes, needed = problem.gain[i], problem.items[i].least, problem.direct[i]
        worth, steps = gain[0] * FINE, behind.pop(i, [])
        if len(gain) > 1:
            steps.append(((gain[1] - gain[0]) * FINE, len(gain) - 1))
        if problem.must >> i & 1:
            room -= minutes
        else:
            steps.sort()
            while steps and steps[-1][0] * minutes > worth:
                dear, more = steps.pop()
                worth += dear * more
                minutes += more
            steps.append((worth // minutes, minutes))
        (behind.setdefault(needed[0], []) if needed else found).extend(steps)
    return found, room


def _handed(problem: Problem, price: int) -> dict[Need, int]:
    """What each topic has beyond the price of its minutes, and hands to the one it needs."""
    handed: dict[Need, int] = {}
    if not any(problem.direct):
        return handed
    beyond = [0] * problem.size
    for i in reversed(problem.upward):
        gain, least = problem.gain[i], problem.items[i].least
        full = gain[-1] * FINE - price * (least + len(gain) - 1)
        beyond[i] += max(gain[0] * FINE - price * least, full)
        if beyond[i] > 0:
            for j in problem.direct[i]:
                handed[i, j] = beyond[i]
                beyond[j] += beyond[i]
    return handed


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
