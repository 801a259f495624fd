"""Sidney's decomposition against every order there is."""

from itertools import pairwise, permutations
from random import Random

import pytest

from oneonone.planner.modules import modules
from oneonone.planner.pairs import Pairs, closed
from oneonone.planner.problem import bits


def drawn(seed: int, size: int = 7) -> Pairs:
    """Random minutes, worth and ties; ties go from lower to higher positions."""
    rng = Random(seed)
    minutes = tuple(rng.randint(1, 12) for _ in range(size))
    worth = tuple(rng.randint(1, 20) for _ in range(size))
    behind = [sum(1 << b for b in range(a + 1, size) if rng.random() < 0.3) for a in range(size)]
    cost = tuple(tuple(d * v if a != b else 0 for b, v in enumerate(worth)) for a, d in enumerate(minutes))
    return Pairs(tuple(range(size)), minutes, worth, cost, closed(behind), 0)


def ahead(table: Pairs) -> dict[int, int]:
    size = len(table.topics)
    return {a: sum(1 << b for b in range(size) if table.behind[b] >> a & 1) for a in range(size)}


@pytest.mark.parametrize("seed", range(60))
def test_a_cheapest_order_takes_the_modules_one_after_another(seed: int) -> None:
    table = drawn(seed)
    lines = [line for line in permutations(range(len(table.topics))) if table.allowed(line)]
    parts = modules(table, table.everything, ahead(table))
    rank = {a: place for place, part in enumerate(parts) for a in bits(part)}
    assert sorted(rank) == list(range(len(table.topics)))
    within = [line for line in lines if all(rank[a] <= rank[b] for a, b in pairwise(line))]
    assert min(map(table.total, within)) == min(map(table.total, lines))


@pytest.mark.parametrize("seed", range(20))
def test_modules_fall_in_worth_a_minute(seed: int) -> None:
    table = drawn(seed)
    parts = [bits(part) for part in modules(table, table.everything, ahead(table))]
    totals = [(sum(table.worth[a] for a in part), sum(table.minutes[a] for a in part)) for part in parts]
    assert all(v * e >= w * d for (v, d), (w, e) in pairwise(totals))
