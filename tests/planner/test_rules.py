"""The rules of the relaxation: every plan keeps them, and no prices on them bound a plan too low."""

from random import Random

import pytest

from oneonone.planner import plan
from oneonone.planner.floors import floors_of
from oneonone.planner.problem import read
from oneonone.planner.relaxation import Relaxation
from oneonone.planner.rules import FINE, Rule, floor_rule, need_rule, room_rule, span_rules
from oneonone.planner.times import cut, times
from tests.planner.shapes import SHAPES, draw


def counted(rule: Rule, minutes: dict[int, int]) -> int:
    return sum(once + each * minutes[i] for i, once, each in rule.entries if i in minutes)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(8))
def test_a_plan_keeps_every_rule_and_no_prices_bound_it_too_low(shape: str, seed: int) -> None:
    draws = (draw(shape, 300 + seed + 100 * k, 16) for k in range(9))
    items, frame, made = next(
        (items, frame, made)
        for items, frame in draws
        if not ((made := plan(items, frame)).infeasible or made.relaxed)
    )
    problem = read(items, frame)
    when = times(problem)
    problem = cut(problem, when)
    alive = [i for i in range(problem.size) if not when.dead >> i & 1]
    minutes = {i: slot.minutes for i in alive if (slot := made.slot(problem.items[i].key))}
    asked = {side: sum(item.wanted for item in items if item.side == side) for side in ("manager", "report")}
    shares = [
        floor_rule(floor, alive)
        for floor in floors_of(problem)
        if sum(d for i, d in minutes.items() if floor.members >> i & 1) < asked[floor.side]
    ]
    rules = [room_rule(alive, frame.room), *shares, *span_rules(problem, when, alive)]
    rules += [need_rule(i, j) for i in alive for j in problem.direct[i]]
    assert all(counted(rule, minutes) <= rule.bound for rule in rules)
    relaxation = Relaxation(problem, alive, rules, (), dict.fromkeys(alive, 0))
    rng = Random(seed)
    for _ in range(20):
        prices = {k: rng.randint(0, 3 * problem.scale) / 4 for k in range(len(rules))}
        bound, surplus, _each = relaxation.priced(relaxation.root(), prices, 1)
        bound += sum(max(0, surplus[i]) for i in alive)
        bound += sum(min(0, surplus[i]) for i in alive if problem.must >> i & 1)
        assert made.worth * problem.scale * FINE <= bound
