"""Random agendas of every shape against CP-SAT, which shares no code with the planner."""

from dataclasses import replace

import pytest

from oneonone.planner import plan
from tests.planner.oracle import least_cost
from tests.planner.rules import assert_keeps_rules, cost_of, worth_of
from tests.planner.shapes import SHAPES, draw

pytest.importorskip("ortools", reason="CP-SAT has no wheel for this machine")

from tests.planner.referee import Referee

HARD = "everything"
"""Floors, agreed times, chains, must-discuss and sensitive topics at once: beyond nine topics neither side
always ends in time, and the planner may state a gap."""

LONG = [
    (shape, n, seed)
    for shape in SHAPES
    for n in ((6, 9) if shape == HARD else (6, 9, 14, 20))
    for seed in range(40 if shape == HARD else 20)
]
SHORT = [(shape, n, 1000 + seed) for shape in SHAPES for n in (6, 9) for seed in range(6)]
SHORT.append(("crowded", 13, 5003))
"""The last one tells ways to the same place apart by what they are worth, not by what their prices lose."""


def assert_equals_referee(shape: str, n: int, seed: int) -> None:
    items, frame = draw(shape, seed, n)
    made = plan(items, frame)
    assert_keeps_rules(made, items, frame)
    referee = Referee(items, frame)
    best = referee.best_worth()
    if made.infeasible or made.relaxed:
        assert best is None
        return
    assert made.worth == worth_of(made, items, frame.beta)
    assert made.cost == cost_of(made, items)
    assert made.set_gap == 0
    assert made.worth == best
    plain = plan([replace(item, sensitive=False) for item in items], frame)
    if 0 < len(plain.slots) <= 12:
        assert plain.cost == least_cost(plain, items, frame)
    if 0 < len(plain.slots) <= 5:
        assert plain.cost == referee.least_cost({slot.key: slot.minutes for slot in plain.slots})


@pytest.mark.parametrize(("shape", "n", "seed"), SHORT)
def test_set_lengths_and_order_equal_cp_sat(shape: str, n: int, seed: int) -> None:
    assert_equals_referee(shape, n, seed)


@pytest.mark.planner_long
@pytest.mark.parametrize(("shape", "n", "seed"), LONG)
def test_a_thousand_agendas_equal_cp_sat(shape: str, n: int, seed: int) -> None:
    assert_equals_referee(shape, n, seed)


@pytest.mark.planner_long
@pytest.mark.parametrize("n", [14, 20])
@pytest.mark.parametrize("seed", range(20))
def test_a_stated_gap_is_true_on_the_hard_shape(n: int, seed: int) -> None:
    items, frame = draw(HARD, seed, n)
    made = plan(items, frame)
    assert_keeps_rules(made, items, frame)
    referee = Referee(items, frame, seconds=10)
    if made.infeasible or made.relaxed:
        assert referee.best_worth() is None
        return
    found, bound = referee.worth_between()
    assert made.worth <= bound
    assert found <= made.worth * (1 + made.set_gap)


@pytest.mark.parametrize("seed", range(25))
def test_an_order_with_a_price_on_changed_places_equals_cp_sat(seed: int) -> None:
    items, frame = draw(("chained", "webbed", "windowed", "pinned", "crowded")[seed % 5], seed, 8)
    before = plan(items, frame)
    frame = replace(frame, kappa=3, mu=20)
    shaken = [replace(item, worth=1 + item.worth * (3 + n % 4) // 4) for n, item in enumerate(items)]
    made = plan(shaken, frame, before)
    referee = Referee(shaken, frame)
    kept = sum(key in before.keys for key in made.keys)
    best = referee.best_worth(before.keys)
    assert best == made.worth + 3 * kept
    assert made.cost == least_cost(made, shaken, frame, before.keys)
    assert made.order_gap == 0
