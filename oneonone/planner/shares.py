"""The best choice under floors alone, exactly: each side a knapsack of its own, and every split of minutes.

With neither `after` nor times, the sides are tied by nothing but the minutes they take. So for each side the
most it can bring in exactly x minutes is tabled, and every split of the room between the sides that keeps
the floors is compared.
"""

from collections.abc import Iterator, Mapping, Sequence

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem

NEVER = -(1 << 80)


def separable(problem: Problem) -> bool:
    """Whether the sides are tied by nothing but minutes."""
    return not problem.timed and not any(problem.before)


def shared(problem: Problem, room: int, floors: Sequence[Floor]) -> dict[int, int] | None:
    """The minutes of the best choice that keeps every floor; None if none does."""
    groups = [[i for i in range(problem.size) if floor.members >> i & 1] for floor in floors]
    inside = {i for group in groups for i in group}
    groups.append([i for i in range(problem.size) if i not in inside])
    tables = [_exactly(problem, group, room) for group in groups]
    up_to = _best_up_to(tables[-1][0])
    best: tuple[int, tuple[int, ...]] | None = None
    for split in _splits([table[0] for table in tables[:-1]], room):
        rest = min(room - sum(split), *_most(floors, split))
        if rest < 0:
            continue
        at = up_to[rest]
        value = tables[-1][0][at] + sum(t[0][x] for t, x in zip(tables, split, strict=False))
        if value > NEVER // 2 and (best is None or value > best[0]):
            best = value, (*split, at)
    if best is None:
        return None
    minutes: dict[int, int] = {}
    for group, table, x in zip(groups, tables, best[1], strict=True):
        minutes |= _traced(problem, group, table, x)
    return minutes


def _exactly(problem: Problem, group: Sequence[int], room: int) -> list[list[int]]:
    """`table[p][x]`: the most that the topics from place p on bring in exactly x minutes."""
    tables = [[0] + [NEVER] * room]
    for i in reversed(group):
        after = tables[-1]
        options = [[NEVER] * (room + 1)] if problem.must >> i & 1 else [after]
        for d, worth in enumerate(problem.gain[i], problem.items[i].least):
            if d <= room:
                options.append([NEVER] * d + [value + worth for value in after[: room + 1 - d]])
        tables.append(list(map(max, *options)) if len(options) > 1 else options[0])
    return tables[::-1]


def _best_up_to(table: Sequence[int]) -> list[int]:
    """For each minute, the minutes up to it that bring most."""
    best, found = 0, []
    for x, value in enumerate(table):
        if value > table[best]:
            best = x
        found.append(best)
    return found


def _splits(tables: Sequence[Sequence[int]], room: int) -> Iterator[tuple[int, ...]]:
    """Every way for the sides with floors to fill minutes exactly, `room` in all."""
    filled = [[x for x, value in enumerate(table) if value > NEVER // 2] for table in tables]
    if len(filled) == 1:
        yield from ((x,) for x in filled[0])
        return
    for x in filled[0]:
        for y in filled[1]:
            if x + y > room:
                break
            yield x, y


def _most(floors: Sequence[Floor], split: Sequence[int]) -> list[int]:
    """For each floor, the minutes that topics of neither floor can have beside this split; -1 for none."""
    found = []
    for place, floor in enumerate(floors):
        spare = floor.short + floor.own * split[place] - floor.others * (sum(split) - split[place])
        found.append(spare // floor.others if spare >= 0 else -1)
    return found


def _traced(
    problem: Problem, group: Sequence[int], tables: Sequence[Sequence[int]], x: int
) -> Mapping[int, int]:
    """The topics and minutes behind a value, the first in the static order and the longest first."""
    minutes = {}
    for place, i in enumerate(group):
        target, after = tables[place][x], tables[place + 1]
        least = problem.items[i].least
        for d in range(min(x, least + len(problem.gain[i]) - 1), least - 1, -1):
            if problem.worth(i, d) + after[x - d] == target:
                minutes[i] = d
                x -= d
                break
    return minutes
