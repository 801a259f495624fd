"""What the plan buys, in a simulation: `python -m oneonone.planner.simulation`.

Compares the planner, planning again after every topic, with four ways a meeting is run without it, on the
same invented agendas and the same invented durations. It shows how the rules compare under its assumptions,
which it prints, and nothing about real meetings.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp
from random import Random
from statistics import fmean

from oneonone.planner.model import Frame, Item, Plan
from oneonone.planner.solve import plan
from oneonone.planner.underway import going_on, replan

ASSUMPTIONS = """\
Assumed, not fitted to any meeting:
- {topics} topics an agenda; minutes wanted 5, 10 or 15; importance a whole number from 2 to 30;
- load: minutes wanted by all topics / minutes for topics, which sets the length of the meeting;
- a topic really needs its minutes wanted x a log-normal factor of median 1 and spread {spread} (of the log);
- below its least useful minutes a topic counts for nothing, at them for 7/10 of its importance, then rising
  evenly to all of it at what it really needs; the least useful minutes are half of those wanted, as people
  state them, or, in the second table, half of those really needed, which nobody can know beforehand;
- without boxes a topic runs until it is through or the meeting ends; with boxes until it is through or its
  box is over and going on for a minute is not suggested; then the rest is planned again."""

SPREAD = 0.4
TOPICS = 10
BETA = 0.7


@dataclass(frozen=True, slots=True)
class Draw:
    """One agenda, the minutes for it, and the minutes each topic really needs."""

    items: tuple[Item, ...]
    minutes: int
    needs: dict[str, float]
    least: dict[str, float]


def draw(rng: Random, load: float, stated: bool) -> Draw:
    """A random agenda whose topics want `load` times the minutes there are.

    `stated`: the least useful minutes are what people state, else half of what is really needed.
    """
    items = tuple(
        Item(f"t{i}", ("manager", "report")[i % 2], wanted, (wanted + 1) // 2, rng.randint(2, 30))
        for i in range(TOPICS)
        for wanted in [rng.choice((5, 10, 15))]
    )
    minutes = max(1, round(sum(item.wanted for item in items) / load))
    needs = {item.key: item.wanted * exp(rng.gauss(0, SPREAD)) for item in items}
    least = {item.key: float(item.least) if stated else needs[item.key] / 2 for item in items}
    return Draw(items, minutes, needs, least)


def credit(one: Draw, item: Item, given: float) -> float:
    """The importance that a topic given so many minutes counts for."""
    needed, least = one.needs[item.key], one.least[item.key]
    if given >= needed:
        return float(item.worth)
    if given < least:
        return 0.0
    return item.worth * (BETA + (1 - BETA) * (given - least) / (needed - least))


def without_boxes(one: Draw, line: Sequence[Item]) -> float:
    """Topics in that order, each until it is through, until the meeting ends."""
    left, total = float(one.minutes), 0.0
    for item in line:
        given = min(left, one.needs[item.key])
        total += credit(one, item, given)
        left -= given
    return total


def order_of_entry(one: Draw) -> float:
    return without_boxes(one, one.items)


def by_importance(one: Draw) -> float:
    return without_boxes(one, sorted(one.items, key=lambda item: -item.worth))


def by_importance_a_minute(one: Draw) -> float:
    return without_boxes(one, sorted(one.items, key=lambda item: Fraction(-item.worth, item.wanted)))


def equal_boxes(one: Draw) -> float:
    """Every topic the same share of the minutes; what one leaves, the rest share."""
    left, total = float(one.minutes), 0.0
    for place, item in enumerate(one.items):
        given = min(left / (TOPICS - place), one.needs[item.key])
        total += credit(one, item, given)
        left -= given
    return total


def planned(one: Draw) -> float:
    """The planner's boxes, planned again after every topic."""
    frame = Frame(one.minutes, kappa=3, mu=20)
    current: Plan = plan(one.items, frame)
    clock, total, done = 0.0, 0.0, list[str]()
    while True:
        upcoming = next((slot for slot in current.slots if slot.key not in done), None)
        if upcoming is None:
            return total
        item = next(item for item in one.items if item.key == upcoming.key)
        given = min(upcoming.minutes, one.needs[item.key], one.minutes - clock)
        while given < min(one.needs[item.key], one.minutes - clock):
            now = round(clock + given)
            if not going_on(one.items, frame, current, now, item.key, done).go_on:
                break
            given = min(given + 1, one.needs[item.key], one.minutes - clock)
        total += credit(one, item, given)
        clock += given
        done.append(item.key)
        current = replan(one.items, frame, current, min(one.minutes, round(clock)), done=done)


WAYS: dict[str, Callable[[Draw], float]] = {
    "plan": planned,
    "order of entry": order_of_entry,
    "by importance": by_importance,
    "equal boxes": equal_boxes,
    "importance a minute": by_importance_a_minute,
}


def compare(
    loads: Sequence[float], draws: int, seed: int, stated: bool = True
) -> dict[float, dict[str, float]]:
    """For each load, each way's mean part of all importance that was discussed."""
    found = {}
    for load in loads:
        rng = Random(f"{seed} {load}")  # noqa: S311
        agendas = [draw(rng, load, stated) for _ in range(draws)]
        full = [sum(item.worth for item in one.items) for one in agendas]
        found[load] = {
            name: fmean(way(one) / all_ for one, all_ in zip(agendas, full, strict=True))
            for name, way in WAYS.items()
        }
    return found


def table(found: dict[float, dict[str, float]]) -> str:
    """The comparison as text: parts discussed, and what the plan has more than each way."""
    lines = [f"{'part of importance discussed':30}" + "".join(f"{f'load {load}':>20}" for load in found)]
    for name in WAYS:
        cells = []
        for parts in found.values():
            more = f" ({parts['plan'] / parts[name] - 1:+.0%})" if name != "plan" else ""
            cells.append(f"{parts[name]:.3f}{more}")
        lines.append(f"{name:30}" + "".join(f"{cell:>20}" for cell in cells))
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print assumptions and comparison."""
    parser = argparse.ArgumentParser(prog="python -m oneonone.planner.simulation", description=__doc__)
    parser.add_argument("--draws", type=int, default=300, help="agendas for each load (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="seed of the draws (default: %(default)s)")
    given = parser.parse_args(arguments)
    if given.draws < 1:
        parser.error("--draws: a whole number from 1")
    sys.stdout.write(f"{ASSUMPTIONS.format(topics=TOPICS, spread=SPREAD)}\n")
    for stated, title in ((True, "Least useful minutes as stated"), (False, "Half of what is really needed")):
        found = compare((0.8, 1.6, 2.5), given.draws, given.seed, stated)
        sys.stdout.write(f"\n{title}\n{table(found)}\n")
    sys.stdout.write(
        f"In brackets: what the plan has more. {given.draws} agendas a load, seed {given.seed}.\n"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
