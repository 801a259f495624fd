"""Factors of planned against actual minutes, and the published figures of the estimator behind them."""

from fractions import Fraction
from math import log
from statistics import fmean

import pytest

from oneonone.planner import PlannerRefusal
from oneonone.planner.calibration import boxed, factors, log_ratio, server_factors, shrinkage

# Efron & Morris, Journal of the American Statistical Association 70 (1975), and Scientific American 236
# (1977): averages of 18 batters after 45 at bats. D.
BATTERS = [
    *(0.400, 0.378, 0.356, 0.333, 0.311, 0.311, 0.289, 0.267, 0.244),
    *(0.244, 0.222, 0.222, 0.222, 0.222, 0.222, 0.200, 0.178, 0.156),
]


def test_the_batters_give_the_published_mean_and_factor() -> None:
    mean = fmean(BATTERS)
    variance = mean * (1 - mean) / 45
    assert round(mean, 4) == 0.2654
    assert round(shrinkage(BATTERS, variance), 4) == 0.2124
    assert round(shrinkage(BATTERS, variance), 3) == 0.212


def test_obstacles_that_overrun_are_boxed_longer_and_one_observation_is_believed_little() -> None:
    once = factors({"obstacle": [(10, 20)]})["obstacle"]
    often = factors({"obstacle": [(10, 20)] * 12})["obstacle"]
    assert 1 < once.factor < often.factor < 2
    assert (once.observations, often.observations) == (1, 12)
    assert boxed(10, often.factor) == round(10 * often.factor)


def test_a_line_without_history_has_no_factors() -> None:
    assert factors({"idea": []}) == {}
    assert factors({}, {"idea": Fraction(3, 2)}, 50) == {}


def test_the_servers_factor_counts_only_once_ten_lines_contribute() -> None:
    history = {"idea": [(10, 10)]}
    server = {"idea": Fraction(2)}
    assert factors(history, server, 9)["idea"].factor == 1
    assert 1 < factors(history, server, 10)["idea"].factor < 2


def test_each_line_counts_once_in_the_servers_factor() -> None:
    found = server_factors([{"idea": [(10, 20)] * 50}, {"idea": [(10, 5)]}, {"update": []}])
    assert found == {"idea": Fraction(1)}


def test_wild_clocks_are_cut() -> None:
    assert factors({"idea": [(1, 500)] * 40})["idea"].factor == Fraction(5, 2)
    assert factors({"idea": [(500, 1)] * 40})["idea"].factor == Fraction(1, 2)


def test_minutes_below_one_are_refused() -> None:
    with pytest.raises(PlannerRefusal, match="planned"):
        log_ratio(0, 5)
    with pytest.raises(PlannerRefusal, match="actual"):
        log_ratio(5, 0)
    with pytest.raises(PlannerRefusal, match="asked"):
        boxed(0, Fraction(1))
    assert log_ratio(10, 20) == pytest.approx(log(2))


@pytest.mark.parametrize(
    ("asked", "factor", "minutes"),
    [(10, Fraction(13, 10), 13), (5, Fraction(1, 2), 3), (1, Fraction(1, 2), 1)],
)
def test_boxed_minutes_are_rounded_half_up(asked: int, factor: Fraction, minutes: int) -> None:
    assert boxed(asked, factor) == minutes
