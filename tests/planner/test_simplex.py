"""The linear program against answers that can be worked out by hand."""

from fractions import Fraction
from itertools import product
from random import Random

import pytest

from oneonone.planner.simplex import Program


def reached(program: Program, gain: list[float]) -> float:
    return sum(worth * x for worth, x in zip(gain, program.value, strict=False))


def test_one_rule_takes_the_densest_first_and_a_part_of_the_last() -> None:
    """Dantzig's bound of the knapsack problem, Operations Research 5, 1957: 60 + 100 + 120 x 20/30."""
    gain = [60.0, 100.0, 120.0]
    program = Program(gain)
    program.add({0: 10.0, 1: 20.0, 2: 30.0}, 50.0)
    assert program.solve() is None
    assert reached(program, gain) == pytest.approx(240)
    assert program.value[:3] == pytest.approx([1, 1, 2 / 3])
    assert program.prices() == pytest.approx({0: 4.0})


def test_a_choice_that_is_fixed_moves_the_others() -> None:
    gain = [60.0, 100.0, 120.0]
    program = Program(gain)
    program.add({0: 10.0, 1: 20.0, 2: 30.0}, 50.0)
    program.solve()
    program.fix(2, 1.0)
    assert program.solve() is None
    assert reached(program, gain) == pytest.approx(120 + 60 + 100 / 2)


def test_rules_that_cannot_be_kept_together_are_named() -> None:
    program = Program([1.0, 1.0])
    program.add({0: 1.0, 1: 1.0}, 1.0)
    program.solve()
    program.fix(0, 1.0)
    program.fix(1, 1.0)
    assert program.solve() == pytest.approx({0: 1.0})


@pytest.mark.parametrize("seed", range(40))
def test_prices_prove_the_optimum(seed: int) -> None:
    """Strong duality, and no choice of whole topics is worth more."""
    rng = Random(seed)
    size = 7
    gain = [float(rng.randint(1, 30)) for _ in range(size)]
    rows = [{j: float(rng.randint(0, 9)) for j in range(size)} for _ in range(3)]
    bounds = [float(rng.randint(5, 25)) for _ in rows]
    program = Program(gain)
    for row, bound in zip(rows, bounds, strict=True):
        program.add(row, bound)
        assert program.solve() is None
    best = reached(program, gain)
    prices = [program.prices().get(k, 0.0) for k in range(len(rows))]
    reduced = [g - sum(p * row[j] for p, row in zip(prices, rows, strict=True)) for j, g in enumerate(gain)]
    dual = sum(p * b for p, b in zip(prices, bounds, strict=True)) + sum(max(0.0, r) for r in reduced)
    assert best == pytest.approx(dual)
    whole = max(
        sum(Fraction(g) * x for g, x in zip(gain, chosen, strict=True))
        for chosen in product((0, 1), repeat=size)
        if all(
            sum(row[j] * x for j, x in enumerate(chosen)) <= b for row, b in zip(rows, bounds, strict=True)
        )
    )
    assert best >= float(whole) - 1e-6
