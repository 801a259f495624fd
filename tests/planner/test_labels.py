"""The search of the core: its losses are exact, its answers the best, and what it leaves open is stated."""

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from ortools.linear_solver import pywraplp

from oneonone.planner import Frame, Item, Plan, choose, labels, plan
from oneonone.planner.choose import value_of
from oneonone.planner.core import core_of
from oneonone.planner.floors import Floor, floors_of, shortfall
from oneonone.planner.labels import Labels
from oneonone.planner.losses import Losses
from oneonone.planner.prices import Prices, prices
from oneonone.planner.problem import Problem, bits, read
from oneonone.planner.rules import FINE
from tests.planner.referee import Referee
from tests.planner.rules import assert_keeps_rules
from tests.planner.shapes import UNTIMED, draw

MANY = 10**7


def _losses(shape: str, seed: int, n: int) -> Losses:
    items, frame = draw(shape, seed, n)
    problem = read(items, frame)
    floors = floors_of(problem)
    return Losses(problem, frame.room, floors, prices(problem, frame.room, floors))


def _loss_of(losses: Losses, minutes: dict[int, int]) -> int:
    """What a choice loses, added up decision by decision."""
    problem, priced = losses.problem, losses.prices
    lost = priced.room * (losses.room - sum(minutes.values()))
    lost += sum(p * f.balance(minutes) for p, f in zip(priced.floors, losses.floors, strict=True))
    for i in range(problem.size):
        if i in minutes:
            lengths = losses.lengths(i, losses.enter[i], losses.enter[i] + losses.ceiling + FINE)
            lost += {d: loss for loss, d in lengths}[minutes[i]]
        else:
            lost += losses.leave[i]
    return lost + sum(price for (i, j), price in priced.needs.items() if j in minutes and i not in minutes)


@pytest.mark.parametrize("shape", UNTIMED)
@pytest.mark.parametrize("seed", range(4))
def test_the_ceiling_less_what_a_choice_loses_is_what_it_is_worth(shape: str, seed: int) -> None:
    losses = _losses(shape, seed, 20)
    found = choose.choose(losses.problem, losses.room, losses.floors)
    if found.minutes is not None:
        assert losses.ceiling - _loss_of(losses, found.minutes) == found.value * FINE


@pytest.mark.parametrize("shape", UNTIMED)
@pytest.mark.parametrize("seed", range(4))
def test_a_higher_limit_finds_nothing_better(shape: str, seed: int) -> None:
    """The limits that leave nothing but the best choice, and more than it, give the same worth."""
    losses = _losses(shape, seed, 14)
    found = choose.choose(losses.problem, losses.room, losses.floors)
    if found.minutes is None:
        return
    just = losses.ceiling - found.value * FINE + 1
    for limit in (just, just + losses.ceiling // 50, just + losses.ceiling // 5):
        core = core_of(losses, limit)
        assert core is not None
        minutes = Labels(core, MANY).best()
        assert minutes is not None
        assert value_of(losses.problem, minutes) == found.value
    core = core_of(losses, just - 1)
    assert core is None or Labels(core, MANY).best() is None


@pytest.mark.parametrize("seed", range(6))
def test_any_prices_lead_to_the_same_worth(seed: int) -> None:
    """Prices guide; they do not decide: none at all, and far too high ones, cost time and nothing else."""
    items, frame = draw("floored_web", seed, 9)
    problem = read(items, frame)
    floors = floors_of(problem)
    found = choose.choose(problem, frame.room, floors)
    for room, floor in ((0, 0), (10**9, 0), (FINE, 10**8)):
        losses = Losses(problem, frame.room, floors, Prices(room, (floor,) * len(floors), {}))
        core = core_of(losses, losses.ceiling + FINE)
        minutes = Labels(core, MANY).best() if core else None
        assert (found.minutes is None) == (minutes is None)
        if minutes is not None:
            assert value_of(problem, minutes) == found.value


def _ceiling(problem: Problem, floors: Sequence[Floor]) -> float:
    """What no choice is worth more than, at the prices found."""
    room = problem.frame.room
    return Losses(problem, room, floors, prices(problem, room, floors)).ceiling / FINE


def _relaxed_worth(problem: Problem, floors: Sequence[Floor]) -> float | None:
    """The most worth where parts of topics can be chosen, by GLOP, a linear solver that shares no code."""
    solver: Any = pywraplp.Solver("relaxation", pywraplp.Solver.GLOP_LINEAR_PROGRAMMING)
    part = [solver.NumVar(float(problem.must >> i & 1), 1, "") for i in range(problem.size)]
    minutes = [solver.NumVar(0, solver.infinity(), "") for _ in range(problem.size)]
    for i, item in enumerate(problem.items):
        solver.Add(minutes[i] >= item.least * part[i])
        solver.Add(minutes[i] <= (item.least + len(problem.gain[i]) - 1) * part[i])
        for j in problem.direct[i]:
            solver.Add(part[i] <= part[j])
    solver.Add(sum(minutes) <= problem.frame.room)
    for floor in floors:
        solver.Add(sum(floor.weight(i) * minutes[i] for i in range(problem.size)) >= -floor.short)
    worth = [
        problem.gain[i][0] * part[i] + problem.slope[i] * (minutes[i] - item.least * part[i])
        for i, item in enumerate(problem.items)
    ]
    solver.Maximize(sum(worth))
    status = solver.Solve()
    assert status in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.INFEASIBLE)
    return float(solver.Objective().Value()) if status == pywraplp.Solver.OPTIMAL else None


@pytest.mark.parametrize("shape", [*UNTIMED])
def test_prices_bound_every_choice_as_closely_as_the_linear_relaxation(shape: str) -> None:
    """Prices are its dual, so the bounds are equal but for rounding."""
    for seed in range(10):
        items, frame = draw(shape, seed, 25)
        problem = read(items, frame)
        floors = floors_of(problem)
        most, ceiling = _relaxed_worth(problem, floors), _ceiling(problem, floors)
        if most is None:
            assert ceiling < 0
        else:
            assert -1e-6 < ceiling / most - 1 < 1e-4


def test_rules_that_cannot_be_kept_together_are_refused_at_once() -> None:
    items = [Item("a", "manager", 10, 10, 5, must=True), Item("b", "report", 2, 2, 5)]
    problem = read(items, Frame(60, floors={"report": Fraction(1, 2)}))
    assert choose.choose(problem, 60, floors_of(problem)) == choose.Choice(None, -1, -1)


def _missing(made: Plan, items: list[Item], frame: Frame, side: str) -> Fraction:
    problem = read(items, frame)
    minutes = {i: slot.minutes for i in range(problem.size) if (slot := made.slot(problem.items[i].key))}
    floor = next(floor for floor in floors_of(problem) if floor.side == side)
    return shortfall(problem, floor, minutes)


@pytest.mark.parametrize(
    ("seed", "n"), [(26, 40), (3, 8), (6, 8), (8, 8), (15, 8), (25, 8), (30, 8), (36, 8)]
)
def test_a_floor_that_cannot_be_kept_falls_short_by_as_little_as_can_be(seed: int, n: int) -> None:
    """The larger share is kept first; the least shortfall is the referee's (CP-SAT)."""
    items, frame = draw("floored_web", seed, n)
    made = plan(items, frame)
    assert frame.floors is not None
    assert made.relaxed
    assert made.set_gap == 0
    kept: list[str] = []
    for side in sorted(frame.floors, key=lambda side: (-Fraction((frame.floors or {})[side]), side)):
        missing = _missing(made, items, frame, side)
        if missing:
            assert missing == Referee(items, frame).least_missing(side, kept)
        else:
            kept.append(side)
        if missing and len(kept) < len(frame.floors) - 1:
            break


@pytest.mark.parametrize(
    ("shape", "seed"), [("floored", 6), ("floored_web", 6), ("webbed", 15), ("floored", 14)]
)
def test_a_search_that_is_cut_keeps_every_rule_and_states_its_gap(
    shape: str, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    items, frame = draw(shape, seed, 40)
    best = plan(items, frame)
    monkeypatch.setattr(choose, "LABELS", 20)
    monkeypatch.setattr(labels, "FEW", 4)
    cut = plan(items, frame)
    assert_keeps_rules(cut, items, frame)
    assert best.set_gap == 0
    assert cut.set_gap > 0
    assert cut.worth <= best.worth <= cut.worth * (1 + cut.set_gap)
    assert cut.worth > best.worth * Fraction(8, 10)


def test_must_discuss_topics_alone_make_up_a_full_room() -> None:
    items = [
        Item("a", None, 20, 10, 3, must=True),
        Item("b", None, 20, 10, 30),
        Item("c", None, 9, 5, 2, must=True),
    ]
    problem = read(items, Frame(15))
    found = choose.choose(problem, 15)
    assert found.minutes == {i: problem.items[i].least for i in bits(problem.must)}


def test_of_topics_that_are_worth_the_same_the_first_is_in_and_has_the_minutes() -> None:
    alike = [Item(key, "report", 6, 3, 10) for key in "dbca"]
    made = plan(alike, Frame(10))
    assert {(slot.key, slot.minutes) for slot in made.slots} == {("a", 4), ("b", 3), ("c", 3)}
    with_more = [*alike, Item("e", "manager", 4, 4, 1)]
    for floors in (None, {"report": Fraction(1, 2)}):
        made = plan(with_more, Frame(10, floors=floors))
        assert {(slot.key, slot.minutes) for slot in made.slots} == {("a", 4), ("b", 3), ("c", 3)}


@pytest.mark.parametrize("shape", UNTIMED)
@pytest.mark.parametrize("seed", range(6))
def test_one_minute_more_leaves_equal_topics_where_they_were(shape: str, seed: int) -> None:
    """Ties are settled by the static order, so an answer does not jump between answers that are as good."""
    items, frame = draw(shape, seed, 12)
    items = [*items, *(Item(f"same {n}", "report", 5, 5, 9) for n in range(4))]
    for more in range(3):
        made = plan(items, replace(frame, minutes=frame.minutes + more))
        chosen = [n for n in range(4) if made.slot(f"same {n}")]
        assert chosen == list(range(len(chosen)))
