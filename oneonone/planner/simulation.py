"""What the rule reaches when meetings overrun: `python -m oneonone.planner.simulation`.

The planner, planning again after every topic, beside three ways a meeting is run without it, on the same
invented agendas with the same invented durations. It compares rules under the assumptions that it prints, and
shows nothing about real meetings.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp
from random import Random
from statistics import fmean

from oneonone.planner.model import FIRST, IF_TIME, IN_TURN, SIDES, Frame, Item
from oneonone.planner.replanning import next_minute, replan
from oneonone.planner.rule import plan
from oneonone.planner.worth import BASE, KIND

ASSUMPTIONS = """\
Assumed, not fitted to any meeting:
- {topics} topics an agenda, entered in random order; minutes wanted 5, 10 or 15, the least useful are half;
- each side calls two topics first, and half of the agendas have a must-discuss; the rest is in turn or if
  time allows; worth by kind as the rule has it;
- load: minutes wanted by all topics / minutes for topics, which sets the length of the meeting;
- a topic really needs its minutes wanted x a log-normal factor with a spread of {spread} (of the log);
- a topic is reached if it is through, or has had four fifths of the minutes it wanted;
- without boxes a topic runs until it is through or the meeting ends; with equal boxes until its box is over;
  with the rule until its box is over, or longer while the next minute is taken from nobody, or, for a first
  topic, only from lower ones; then the rest is planned again."""

SPREAD = 0.4
TOPICS = 10
COLUMNS = ((1.2, 1.0), (1.6, 1.0), (1.6, 1.3), (2.5, 1.3))
"""Loads, and the medians of the factors that topics need."""


@dataclass(frozen=True, slots=True)
class Draw:
    """One agenda in order of entry, the minutes for it, and the minutes each topic really needs."""

    items: tuple[Item, ...]
    minutes: int
    needs: dict[str, float]


Given = dict[str, float]  # the minutes each topic really had
Shares = tuple[float, float]  # reached of what is first, and of the worth of all topics


def draw(rng: Random, load: float, median: float) -> Draw:
    """A random agenda whose topics want `load` times the minutes there are."""
    ranks = [FIRST] * 4 + [rng.choice((IN_TURN, IN_TURN, IF_TIME)) for _ in range(TOPICS - 4)]
    must, items = rng.randrange(2 * TOPICS), list[Item]()
    for i, rank in enumerate(ranks):
        wanted, worth = rng.choice((5, 10, 15)), BASE + rng.choice(sorted(KIND.values()))
        items.append(Item(f"t{i}", SIDES[i % 2], wanted, (wanted + 1) // 2, worth, rank, must=i == must))
    rng.shuffle(items)
    minutes = max(1, round(sum(item.wanted for item in items) / load))
    needs = {item.key: item.wanted * median * exp(rng.gauss(0, SPREAD)) for item in items}
    return Draw(tuple(items), minutes, needs)


def in_line(one: Draw, line: Sequence[Item], boxed: bool = False) -> Given:
    """Topics in that order, each until it is through or the meeting ends; boxed, until its share is over."""
    left, given = float(one.minutes), {}
    for place, item in enumerate(line):
        given[item.key] = min(left / (len(line) - place) if boxed else left, one.needs[item.key])
        left -= given[item.key]
    return given


def by_the_rule(one: Draw) -> Given:
    """The planner's boxes, planned again after every topic."""
    frame, by_key = Frame(one.minutes), {item.key: item for item in one.items}
    current, clock, given = plan(one.items, frame), 0.0, Given()
    while upcoming := next((slot for slot in current.slots if slot.key not in given), None):
        item = by_key[upcoming.key]
        most = min(one.needs[item.key], one.minutes - clock)
        spent = min(float(upcoming.minutes), most)
        while spent < most:
            taken = next_minute(one.items, frame, current, round(clock + spent), item.key, tuple(given))
            losing = {*taken.pushed_out, *(key for key, _ in taken.shortened)}
            if any(is_first(by_key[key]) or not is_first(item) for key in losing):
                break
            spent = min(spent + 1, most)
        given[item.key] = spent
        clock += spent
        current = replan(one.items, frame, current, min(one.minutes, round(clock)), done=tuple(given))
    return given


def is_first(item: Item) -> bool:
    return item.must or item.rank == FIRST


WAYS: dict[str, Callable[[Draw], Given]] = {
    "the rule": by_the_rule,
    "order of entry": lambda one: in_line(one, one.items),
    "worth a minute": lambda one: in_line(one, sorted(one.items, key=lambda i: -i.worth / i.wanted)),
    "equal boxes": lambda one: in_line(one, one.items, boxed=True),
}


def reached(one: Draw, given: Given) -> Shares:
    """What was reached of one agenda."""
    got = [
        item
        for item in one.items
        if given.get(item.key, 0) >= min(one.needs[item.key], item.wanted * 4 / 5) - 1e-9
    ]
    first = sum(map(is_first, got)) / sum(map(is_first, one.items))
    return first, sum(item.worth for item in got) / sum(item.worth for item in one.items)


def compare(load: float, median: float, draws: int, seed: int) -> dict[str, Shares]:
    """The mean shares of each way over so many agendas."""
    rng = Random(f"{seed} {load} {median}")  # noqa: S311
    agendas = [draw(rng, load, median) for _ in range(draws)]
    found = {}
    for name, way in WAYS.items():
        shares = [reached(one, way(one)) for one in agendas]
        found[name] = fmean(first for first, _ in shares), fmean(worth for _, worth in shares)
    return found


def main(arguments: Sequence[str] | None = None) -> int:
    """Print assumptions and comparison."""
    parser = argparse.ArgumentParser(prog="python -m oneonone.planner.simulation", description=__doc__)
    parser.add_argument("--draws", type=int, default=200, help="agendas a column (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=1, help="seed of the draws (default: %(default)s)")
    given = parser.parse_args(arguments)
    if given.draws < 1:
        parser.error("--draws: a whole number from 1")
    lines = [ASSUMPTIONS.format(topics=TOPICS, spread=SPREAD), "", "Reached: first topics, all worth"]
    lines.append(" " * 16 + "".join(f"{f'load {load}, median {median}':>24}" for load, median in COLUMNS))
    columns = [compare(load, median, given.draws, given.seed) for load, median in COLUMNS]
    for name in WAYS:
        cells = [f"{first:.0%}, {worth:.0%}" for first, worth in (column[name] for column in columns)]
        lines.append(f"{name:16}" + "".join(f"{cell:>24}" for cell in cells))
    lines.append(f"{given.draws} agendas a column, seed {given.seed}.")
    sys.stdout.write("\n".join(lines) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
