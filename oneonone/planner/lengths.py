"""Minutes for a set of chosen topics, when only their sum is bounded, or each side's share of it.

Worth grows evenly from the least useful minutes to those wanted, so giving each minute to the topic where
it is worth most is exact (marginal allocation: Fox, Operations Research 14, 1966).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem


def allot(problem: Problem, chosen: Sequence[int], room: int) -> dict[int, int]:
    """Minutes for each chosen topic, of the greatest worth; beyond `room` only if the least useful are."""
    items = problem.items
    minutes = {i: items[i].least for i in chosen}
    free = max(0, room - sum(minutes.values()))
    for i in sorted(chosen, key=lambda i: (-problem.slope[i], i)):
        more = min(free, len(problem.gain[i]) - 1) if problem.slope[i] > 0 else 0
        minutes[i] += more
        free -= more
    return minutes


def allot_kept(
    problem: Problem, chosen: Sequence[int], room: int, floors: Sequence[Floor]
) -> dict[int, int] | None:
    """Minutes of the greatest worth that keep every floor; None if none do.

    Within a side minutes go where they are worth most; the split between the sides is tried out in full
    (Federgruen & Groenevelt, Operations Research 34, 1986, give each part by its margin).
    """
    items = problem.items
    free = room - sum(items[i].least for i in chosen)
    if free < 0:
        return None
    groups = [[i for i in chosen if floor.members >> i & 1] for floor in floors]
    inside = [i for group in groups for i in group]
    groups.append([i for i in chosen if i not in inside])
    worths = [_exact_worth(problem, group, free) for group in groups]
    balance = [floor.short + sum(floor.weight(i) * items[i].least for i in chosen) for floor in floors]
    best: tuple[int, tuple[int, ...]] | None = None
    for split in _splits([len(worth) - 1 for worth in worths[:-1]], free):
        rest = min(free - sum(split), len(worths[-1]) - 1, *_most(floors, balance, split))
        if rest >= 0:
            rest = max(range(rest + 1), key=worths[-1].__getitem__)
            value = sum(worth[k] for worth, k in zip(worths, (*split, rest), strict=True))
            if best is None or value > best[0]:
                best = value, (*split, rest)
    if best is None:
        return None
    minutes: dict[int, int] = {}
    for group, extra in zip(groups, best[1], strict=True):
        for i in sorted(group, key=lambda i: (-problem.slope[i], i)):
            more = min(extra, len(problem.gain[i]) - 1)
            minutes[i] = items[i].least + more
            extra -= more
    return minutes


def _exact_worth(problem: Problem, group: Sequence[int], minutes: int) -> list[int]:
    """What exactly 0, 1, ... minutes beyond the least useful ones add, as far as the group can take them."""
    worth = [0]
    for i in sorted(group, key=lambda i: -problem.slope[i]):
        for _ in range(min(len(problem.gain[i]) - 1, minutes + 1 - len(worth))):
            worth.append(worth[-1] + problem.slope[i])
    return worth


def _splits(most: Sequence[int], free: int) -> Iterator[tuple[int, ...]]:
    """Every way to give each side up to its most minutes, `free` in all."""
    return (split for split in product(*(range(min(m, free) + 1) for m in most)) if sum(split) <= free)


def _most(floors: Sequence[Floor], balance: Sequence[int], split: Sequence[int]) -> list[int]:
    """For each floor, the minutes that topics of neither floor can have beside this split; -1 for none."""
    found = []
    for place, floor in enumerate(floors):
        spare = balance[place] + floor.own * split[place]
        spare -= floor.others * (sum(split) - split[place])
        found.append(spare // floor.others if spare >= 0 else -1)
    return found


def at_lengths(problem: Problem, minutes: Mapping[int, int]) -> Problem:
    """The problem in which these topics have exactly these minutes."""
    items, gain, slope = list(problem.items), list(problem.gain), list(problem.slope)
    for i, d in minutes.items():
        gain[i] = (problem.worth(i, d),)
        items[i] = replace(items[i], least=d)
        slope[i] = 0
    return replace(problem, items=tuple(items), gain=tuple(gain), slope=tuple(slope))
