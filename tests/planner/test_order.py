"""The order of a gap against every order there is, with many equal ratios of worth to minutes."""

from itertools import permutations
from random import Random

import pytest

from oneonone.planner.knapsack import Budget
from oneonone.planner.order import Sequencing


def drawn(seed: int, ratios: int) -> Sequencing:
    """Up to seven topics; worth is minutes times one of few ratios, so that composites tie."""
    rng = Random(f"{seed} {ratios}")
    size = rng.randint(2, 7)
    minutes = {i: rng.randint(1, 6) for i in range(size)}
    weight = {i: minutes[i] * rng.randint(1, ratios) for i in range(size)}
    line = rng.sample(range(size), k=size)
    chance = rng.choice((0.15, 0.4, 0.8))
    ahead = {i: {j for j in line[:place] if rng.random() < chance} for place, i in enumerate(line)}
    return Sequencing(minutes, weight, ahead, Budget())


@pytest.mark.parametrize("ratios", [1, 2, 3, 9])
@pytest.mark.parametrize("block", range(5))
def test_the_order_is_the_first_of_the_cheapest(ratios: int, block: int) -> None:
    for seed in range(block * 20, block * 20 + 20):
        case = drawn(seed, ratios)

        def cost(line: tuple[int, ...], case: Sequencing = case) -> tuple[int, tuple[int, ...]]:
            clock = total = 0
            for i in line:
                clock += case.minutes[i]
                total += case.weight[i] * clock
            return total, line

        allowed = [
            line
            for line in permutations(case.weight)
            if all(case.ahead[i] <= set(line[:place]) for place, i in enumerate(line))
        ]
        assert tuple(case.best()) == min(allowed, key=cost)
        assert case.budget.unproven == 0


def test_a_long_chain_and_single_topics_are_proven() -> None:
    """Sixty topics in a given order have few sets that can stand first."""
    rng = Random(4)
    minutes = {i: rng.randint(1, 9) for i in range(70)}
    weight = {i: rng.randint(4, 12) for i in range(70)}
    ahead = {i: set(range(i)) if i < 60 else set() for i in range(70)}
    case = Sequencing(minutes, weight, ahead, Budget())
    assert [i for i in case.best() if i < 60] == list(range(60))
    assert case.budget.unproven == 0
