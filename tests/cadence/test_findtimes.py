"""Finding times: equal to trying everything, with a bound of its own, in seconds for 77 meetings."""

from __future__ import annotations

import itertools
import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oneonone.cadence import CadenceRefusal
from oneonone.cadence.findtimes import cost_of, place_meetings

Costs = list[dict[int, int]]


@st.composite
def cases(draw: st.DrawFn) -> tuple[Costs, list[int], int, int]:
    """Up to five meetings and six starts on up to three days."""
    days = draw(st.lists(st.integers(0, 2), min_size=1, max_size=6))
    starts = st.dictionaries(st.integers(0, len(days) - 1), st.integers(0, 12), max_size=len(days))
    costs = draw(st.lists(starts, min_size=1, max_size=5))
    return costs, days, draw(st.integers(0, 6)), draw(st.integers(0, 40))


def by_trying_everything(costs: Costs, days: list[int], crowding: int, unplaced: int) -> int:
    """The cheapest of all answers, by looking at each of them."""
    best = None
    for answer in itertools.product(*([None, *starts] for starts in costs)):
        taken = [start for start in answer if start is not None]
        if len(taken) == len(set(taken)):
            cost = cost_of(answer, costs, days, crowding=crowding, unplaced=unplaced)
            best = cost if best is None else min(best, cost)
    assert best is not None
    return best


@given(cases())
@settings(max_examples=300, deadline=None)
def test_it_costs_what_the_best_of_all_answers_costs(case: tuple[Costs, list[int], int, int]) -> None:
    costs, days, crowding, unplaced = case
    found = place_meetings(costs, days, crowding=crowding, unplaced=unplaced)
    assert found.cost == by_trying_everything(costs, days, crowding, unplaced)
    assert found.gap == 0
    taken = [start for start in found.starts if start is not None]
    assert len(taken) == len(set(taken))
    assert all(start is None or start in suits for start, suits in zip(found.starts, costs, strict=True))


def test_the_cost_counts_each_meeting_of_a_day_more_than_the_one_before() -> None:
    """Three on one day: 1 + 2 + 3 of their own, 0 + 5 + 10 for the crowd."""
    costs = [{0: 1}, {1: 2}, {2: 3}]
    assert cost_of((0, 1, 2), costs, [7, 7, 7], crowding=5, unplaced=99) == 21


def test_a_crowded_day_gives_way_to_an_empty_one() -> None:
    costs = [{0: 0, 3: 1}, {1: 0, 3: 1}, {2: 0, 3: 1}]
    found = place_meetings(costs, [0, 0, 0, 1], crowding=4, unplaced=100)
    assert found.starts.count(3) == 1
    assert found.cost == 1 + 4


def test_whoever_has_no_other_start_gets_it() -> None:
    found = place_meetings([{0: 0, 1: 9}, {0: 5}], [0, 1], crowding=0, unplaced=1000)
    assert found.starts == (1, 0)


def test_more_meetings_than_starts_leave_some_without() -> None:
    found = place_meetings([{0: 3}, {0: 1}, {}], [0], crowding=0, unplaced=50)
    assert found.starts == (None, 0, None)
    assert (found.cost, found.gap) == (101, 0)


def test_no_meetings_cost_nothing() -> None:
    found = place_meetings([], [], crowding=1, unplaced=1)
    assert (found.starts, found.cost, found.bound) == ((), 0, 0)


@pytest.mark.parametrize(
    ("costs", "crowding", "unplaced", "field"),
    [
        ([{2: 1}], 1, 1, "start"),
        ([{-1: 1}], 1, 1, "start"),
        ([{0: -1}], 1, 1, "cost"),
        ([{0: 1}], -1, 1, "crowding"),
        ([{0: 1}], 1, -1, "unplaced"),
    ],
)
def test_what_is_no_cost_and_no_start_is_refused(
    costs: Costs, crowding: int, unplaced: int, field: str
) -> None:
    with pytest.raises(CadenceRefusal) as refused:
        place_meetings(costs, [0, 0], crowding=crowding, unplaced=unplaced)
    assert refused.value.field == field


def test_seventy_seven_meetings_in_four_weeks_are_placed_with_no_gap() -> None:
    """Twenty days of ten starts, half of which suit each meeting. The seconds are printed, not judged."""
    chance = random.Random(77)
    days = [day for day in range(20) for _ in range(10)]
    costs = []
    for _ in range(77):
        first = chance.randrange(10) * 10
        costs.append(
            {start: abs(start - first - 50) // 10 * 8 + start % 10 for start in range(first, first + 100)}
        )
    began = time.perf_counter()
    found = place_meetings(costs, days, crowding=2, unplaced=10_000)
    print(f"77 meetings: {time.perf_counter() - began:.2f} s, cost {found.cost}, gap {found.gap}")  # noqa: T201
    assert None not in found.starts
    assert found.gap == 0
