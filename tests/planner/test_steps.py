"""The steps beside two referees: every set, placing and order there is, and CP-SAT step by step."""

from random import Random

import pytest

from oneonone.planner import Plan, plan
from tests.planner.brute import Brute
from tests.planner.draws import Agenda, draw
from tests.planner.referee import Referee, TooMany


def assert_same(made: Plan, other: Brute) -> None:
    """The same topics at the same minutes, and the same said of worth and order; all of it proven."""
    assert [(slot.key, slot.start, slot.end) for slot in made.slots] == other.slots
    assert made.worth == other.worth
    assert set(made.given_up) == other.given_up
    assert made.unproven == 0
    assert (made.infeasible is None) == (other.musts <= other.minutes.keys())


def drawn(seed: object, low: int, high: int) -> Agenda:
    return draw(seed, Random(f"{seed}").randint(low, high))


@pytest.mark.parametrize("block", range(12))
def test_small_agendas_are_as_when_every_way_is_tried(block: int) -> None:
    for seed in range(block * 20, block * 20 + 20):
        agenda = drawn(seed, 1, 6)
        assert_same(plan(*agenda), Brute(*agenda).solve())


@pytest.mark.parametrize("block", range(6))
def test_agendas_are_as_cp_sat_settles_them(block: int) -> None:
    for seed in range(block * 6, block * 6 + 6):
        agenda = drawn(seed, 1, 40)
        assert_same(plan(*agenda), Referee(*agenda).solve())


@pytest.mark.planner_long
@pytest.mark.parametrize("block", range(40))
def test_thousands_of_small_agendas(block: int) -> None:
    for seed in range(block * 150, block * 150 + 150):
        agenda = drawn(("small", seed), 3, 7)
        assert_same(plan(*agenda), Brute(*agenda).solve())


@pytest.mark.planner_long
@pytest.mark.parametrize("block", range(40))
def test_more_than_a_thousand_agendas_of_up_to_forty_topics(block: int) -> None:
    compared = 0
    for seed in range(block * 40, block * 40 + 40):
        agenda = drawn(("large", seed), 1, 40)
        try:
            other = Referee(*agenda).solve()
        except TooMany:
            continue
        assert_same(plan(*agenda), other)
        compared += 1
    assert compared > 30


@pytest.mark.planner_long
@pytest.mark.parametrize("block", range(10))
def test_agendas_ordered_by_hand_throughout(block: int) -> None:
    """Every topic has its place by hand, three agreed starts cut the meeting."""
    for seed in range(block * 20, block * 20 + 20):
        items, frame = draw(("hand", seed), Random(seed).randint(5, 40), starts=3, ordered=True)
        keys = sorted(item.key for item in items)
        Random(seed).shuffle(keys)
        agenda = items, type(frame)(frame.minutes, frame.opening, frame.closing, tuple(keys))
        assert_same(plan(*agenda), Referee(*agenda).solve())
