"""How fast the planner is, beside CP-SAT in the same run, and how little a re-plan moves.

Run by `pytest tests/bench/test_planner.py -s`. Draws and seeds are those of `tests.planner.shapes`. CP-SAT
has one worker and answers the first level alone; its model is built within the time measured, and knows of no
intervals where no topic has a time. Times are those of the process, not of the wall, and of three passes over
all agendas in turn each agenda's middle one counts, so that a busy machine disturbs them less. No figure here
fails on a clock; what fails is a wrong answer.
"""

import gc
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random
from statistics import median
from typing import TypeVar

from oneonone.planner import Frame, Item, Plan, difference, plan, replan
from tests.planner.referee import Referee
from tests.planner.shapes import SHAPES, TIMED, UNTIMED, draw

TOPICS = 40
AGENDAS = 30
REFEREED = 10
PASSES = 3

Answer = TypeVar("Answer")
DISTURBANCES = 200


def middle_of(passes: Sequence[Sequence[tuple[float, Answer]]]) -> list[tuple[float, Answer]]:
    """Of each agenda the middle time, and what was answered."""
    return [(median(spent for spent, _ in runs), runs[0][1]) for runs in zip(*passes, strict=True)]


def planned(items: Sequence[Item], frame: Frame) -> tuple[float, Plan]:
    started = time.process_time()
    made = plan(items, frame)
    return (time.process_time() - started) * 1000, made


def refereed(items: Sequence[Item], frame: Frame) -> tuple[float, Fraction | None]:
    started = time.process_time()
    best = Referee(items, frame).best_worth()
    return (time.process_time() - started) * 1000, best


def high(times: Sequence[float]) -> float:
    """The 99th percentile: of fewer than a hundred, the greatest."""
    return sorted(times)[min(len(times) - 1, int(len(times) * 0.99))]


def show(*lines: str) -> None:
    sys.stdout.write("\n" + "\n".join(lines) + "\n")


def test_speed_beside_cp_sat_at_forty_topics() -> None:
    """Whole plans by the planner, then worth alone by CP-SAT, in passes over the same agendas."""
    plan(*draw("plain", 0, TOPICS))
    gc.disable()
    drawn = {shape: [draw(shape, seed, TOPICS) for seed in range(AGENDAS)] for shape in SHAPES}
    by_planner, by_referee = [], []
    for _ in range(PASSES):
        by_planner.append({shape: [planned(*agenda) for agenda in drawn[shape]] for shape in SHAPES})
        by_referee.append(
            {shape: [refereed(*agenda) for agenda in drawn[shape][:REFEREED]] for shape in SHAPES}
        )
    gc.enable()
    mine = {shape: middle_of([one[shape] for one in by_planner]) for shape in SHAPES}
    theirs = {shape: middle_of([one[shape] for one in by_referee]) for shape in SHAPES}
    for shape in SHAPES:
        for (_, made), (_, best) in zip(mine[shape], theirs[shape], strict=False):
            if made.set_gap == 0 and not made.relaxed and not made.infeasible:
                assert made.worth == best
    titles = ("median", "p99", "CP-SAT", "ratio", "open", "order", "worst")
    groups = {"without slots": [*UNTIMED], "with slots": [*TIMED], "all": [*SHAPES]}
    wins = [
        f"{shape} {seed}"
        for shape in SHAPES
        for seed, ratio in enumerate(ratios(mine[shape], theirs[shape]))
        if ratio < 1
    ]
    show(
        f"{TOPICS} topics, {AGENDAS} agendas a shape, milliseconds; CP-SAT on the first {REFEREED}",
        f"{'shape':12}" + "".join(f"{title:>9}" for title in titles),
        *(row(shape, mine[shape], theirs[shape]) for shape in SHAPES),
        *(
            group(name, [mine[s] for s in shapes], [theirs[s] for s in shapes])
            for name, shapes in groups.items()
        ),
        f"CP-SAT was faster on {len(wins)}: {', '.join(wins) or 'none'}",
    )
    assert set(UNTIMED) | set(TIMED) == set(SHAPES)


def ratios(
    mine: Sequence[tuple[float, Plan]], theirs: Sequence[tuple[float, Fraction | None]]
) -> list[float]:
    """How many times as long CP-SAT takes, agenda by agenda."""
    return [other / spent for (spent, _), (other, _) in zip(mine, theirs, strict=False)]


def row(
    shape: str, mine: Sequence[tuple[float, Plan]], theirs: Sequence[tuple[float, Fraction | None]]
) -> str:
    times, plans = [spent for spent, _ in mine], [made for _, made in mine]
    gaps = [made.order_gap for made in plans]
    return (
        f"{shape:12}{median(times):9.2f}{high(times):9.1f}{median(other for other, _ in theirs):9.1f}"
        f"{median(ratios(mine, theirs)):9.1f}{sum(made.set_gap > 0 for made in plans):9}"
        f"{sum(gap > 0 for gap in gaps):9}{float(max(gaps)):9.2%}"
    )


def group(
    name: str,
    mine: Sequence[Sequence[tuple[float, Plan]]],
    theirs: Sequence[Sequence[tuple[float, Fraction | None]]],
) -> str:
    times = [spent for shape in mine for spent, _ in shape]
    middle = median(ratio for a, b in zip(mine, theirs, strict=True) for ratio in ratios(a, b))
    return f"{name}: median {median(times):.2f}, p99 {high(times):.1f}, median ratio {middle:.1f}"


def disturbed(rng: Random, items: list[Item], frame: Frame) -> tuple[list[Item], Frame]:
    """One thing changes before the meeting: minutes, importance, a topic more or fewer, or the end."""
    items = list(items)
    at = rng.randrange(len(items))
    item = items[at]
    match rng.randrange(5):
        case 0:
            wanted = max(1, item.wanted + rng.choice((-3, 3, 5)))
            items[at] = replace(item, wanted=wanted, least=min(item.least, wanted))
        case 1:
            items[at] = replace(item, worth=rng.randint(2, 30))
        case 2:
            items.append(Item("new", rng.choice(("manager", "report")), 8, 4, rng.randint(2, 30)))
        case 3:
            items.pop(at)
        case _:
            frame = replace(frame, minutes=frame.minutes - rng.randint(1, 10))
    return items, frame


def shaken(seed: int, mu: int, under_way: bool) -> tuple[int, int, Fraction, Fraction]:
    """Pairs moved by a re-plan and by planning anew, worth given up, and the worth of planning anew."""
    rng = Random(seed)
    items, frame = draw("plain", seed, rng.randint(6, 14))
    stable = replace(frame, kappa=3, mu=mu)
    issued = plan(items, stable)
    if under_way and issued.slots:
        first = issued.slots[0]
        now = max(frame.opening, first.end + rng.randint(-3, 6))
        kept = replan(items, stable, issued, now, None, (first.key,))
        anew = replan(items, frame, issued, now, None, (first.key,))
    else:
        changed, after = disturbed(rng, items, frame)
        kept = plan(changed, replace(after, kappa=3, mu=mu), issued)
        anew = plan(changed, after)
        items = [*items, *changed]
    moves = difference(issued, kept, items).moved, difference(issued, anew, items).moved
    return *moves, anew.worth - kept.worth, anew.worth


def test_a_disturbance_moves_few_topics_for_little_worth() -> None:
    """Re-plans with kappa 3 beside planning anew: at mu 60, 0.3 pairs and 0.3 % of worth at most."""
    rows = []
    for mu in (20, 60):
        for under_way in (False, True):
            found = [shaken(seed, mu, under_way) for seed in range(DISTURBANCES)]
            moved, anew, lost, full = (sum(column) for column in zip(*found, strict=True))
            name = f"mu {mu} {'under way' if under_way else 'before'}"
            rows.append(
                f"{name:20}{moved / DISTURBANCES:11.3f}{anew / DISTURBANCES:11.3f}"
                f"{float(lost / full):11.3%}{DISTURBANCES:7}"
            )
            assert 0 <= lost <= full * Fraction(3, 1000)
            assert mu < 60 or moved <= Fraction(3, 10) * DISTURBANCES
    show(f"{'disturbance':20}{'kept':>11}{'anew':>11}{'worth lost':>11}{'n':>7}", *rows)
