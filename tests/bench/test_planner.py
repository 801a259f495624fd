"""How fast the planner is and how much of it is proven, beside CP-SAT in the same run.

Run by `pytest tests/bench/test_planner.py -s`. Draws and seeds are those of `tests.planner.draws`. Times are
those of the process, not of the wall, the middle one of three passes for each agenda, so that a busy machine
disturbs them less. No figure here fails on a clock; what fails is a plan not proven where it has to be.
"""

import gc
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from random import Random
from statistics import median

from oneonone.planner import Plan, plan
from tests.planner.draws import Agenda, draw
from tests.planner.referee import Referee, TooMany

PASSES = 3
REFEREED = 10


def hand_ordered(seed: int, n: int, starts: int) -> Agenda:
    """An agenda with a random order by hand of all its topics."""
    items, frame = draw(seed, n, starts)
    keys = sorted(item.key for item in items)
    Random(seed).shuffle(keys)
    return items, replace(frame, order=tuple(keys))


SETS: dict[str, tuple[bool, list[Agenda]]] = {
    "12 topics, no start": (True, [draw(seed, 12, 0) for seed in range(200)]),
    "12 topics, two starts": (True, [draw(seed, 12, 2) for seed in range(300)]),
    "40 topics, no start": (True, [draw(seed, 40, 0) for seed in range(200)]),
    "40 topics, three starts": (True, [draw(seed, 40, 3) for seed in range(300)]),
    "60 topics, three starts": (False, [draw(seed, 60, 3) for seed in range(200)]),
    "60 topics, all ordered": (False, [hand_ordered(seed, 60, 3) for seed in range(200)]),
    "60 topics, six starts": (False, [draw(seed, 60, 6) for seed in range(100)]),
    "60 topics, thirty starts": (False, [draw(seed, 60, 30) for seed in range(100)]),
}
"""Agendas by name, and whether all of them have to be proven."""


def spent(agenda: Agenda) -> tuple[float, Plan]:
    started = time.process_time()
    made = plan(*agenda)
    return (time.process_time() - started) * 1000, made


def refereed(agendas: Sequence[Agenda]) -> float:
    """The median milliseconds that CP-SAT takes for all steps of the first agendas."""
    times = []
    for agenda in agendas[:REFEREED]:
        started = time.process_time()
        try:
            Referee(*agenda).solve()
        except TooMany:
            continue
        times.append((time.process_time() - started) * 1000)
    return median(times) if times else float("nan")


def test_times_and_proven_shares() -> None:
    titles = ("p50", "p99", "worst", "proven", "CP-SAT", "ratio")
    lines = [f"{'milliseconds of process time':28}" + "".join(f"{title:>9}" for title in titles)]
    gc.disable()
    for name, (has_to_be_proven, agendas) in SETS.items():
        runs = [[spent(agenda) for agenda in agendas] for _ in range(PASSES)]
        times = sorted(median(one[0] for one in same) for same in zip(*runs, strict=True))
        proven = sum(made.unproven == 0 for _, made in runs[0]) / len(agendas)
        other = refereed(agendas) if has_to_be_proven else float("nan")
        high = times[min(len(times) - 1, int(len(times) * 0.99))]
        lines.append(
            f"{name:28}{median(times):9.2f}{high:9.1f}{times[-1]:9.1f}{proven:9.1%}"
            f"{other:9.0f}{other / median(times):9.0f}"
        )
        assert proven == 1 or not has_to_be_proven
    gc.enable()
    sys.stdout.write("\n" + "\n".join(lines) + "\n")
