"""The index for a meeting that may end at any minute, against every order."""

from fractions import Fraction
from itertools import permutations
from random import Random

import pytest

from oneonone.planner import Item
from oneonone.planner.refusals import OutOfRange
from oneonone.planner.unknown_end import by_index, expected_worth


@pytest.mark.parametrize("seed", range(8))
def test_no_order_of_six_topics_has_a_greater_expected_worth(seed: int) -> None:
    rng = Random(seed)
    items = [
        Item(f"t{i}", None, minutes, minutes, rng.randint(2, 30))
        for i in range(6)
        for minutes in [rng.randint(1, 15)]
    ]
    survival = Fraction(rng.randint(80, 99), 100)
    by_key = {item.key: item for item in items}
    found = expected_worth([by_key[key] for key in by_index(items, survival)], survival)
    assert found == max(expected_worth(line, survival) for line in permutations(items))


@pytest.mark.parametrize("survival", [Fraction(0), Fraction(1), Fraction(3, 2)])
def test_a_chance_of_none_or_all_is_refused(survival: Fraction) -> None:
    with pytest.raises(OutOfRange, match="survival"):
        by_index([], survival)
