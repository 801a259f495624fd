"""The best choice where every topic needs at most one other: tables over minutes, exact.

Topics then form a forest, and a walk that visits every topic before those that require it can skip a whole
branch when it leaves one out: the tree knapsack of Johnson & Niemi (Mathematics of Operations Research 8,
1983), here with a choice of lengths (Kellerer, Pferschy & Pisinger, Knapsack Problems, 2004).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from oneonone.planner.problem import Problem


@dataclass(frozen=True, slots=True)
class Walk:
    """All topics with every branch together, parents first; `skip[p]` is the place after the branch at p."""

    line: tuple[int, ...]
    skip: tuple[int, ...]


def walk(problem: Problem) -> Walk | None:
    """The walk of a problem; None if a topic needs several others that do not need one another."""
    below: dict[int | None, list[int]] = {}
    for i, direct in enumerate(problem.direct):
        if len(direct) > 1:
            return None
        below.setdefault(direct[0] if direct else None, []).append(i)
    line: list[int] = []
    skip: list[int] = []
    _visit(below, None, line, skip)
    return Walk(tuple(line), tuple(skip))


def _visit(below: dict[int | None, list[int]], root: int | None, line: list[int], skip: list[int]) -> None:
    for i in below.get(root, ()):
        place = len(line)
        line.append(i)
        skip.append(0)
        _visit(below, i, line, skip)
        skip[place] = len(line)


def best_minutes(problem: Problem, path: Walk, room: int) -> dict[int, int]:
    """The minutes of the best choice within `room`, in which the must-discuss topics' least minutes fit.

    Of equally good ones that which takes what comes first in the walk, as long as can be.
    """
    never = -2 * sum(gain[-1] for gain in problem.gain) - 1
    size = len(path.line)
    rows = [[0] * (room + 1)] * (size + 1)
    for place in range(size - 1, -1, -1):
        rows[place] = _row(problem, path.line[place], rows[place + 1], rows[path.skip[place]], room, never)
    minutes: dict[int, int] = {}
    place, left = 0, room
    while place < size:
        i, after = path.line[place], rows[place + 1]
        length = _length(problem, i, after, left, rows[place][left])
        if length is None:
            place = path.skip[place]
        else:
            minutes[i] = length
            left -= length
            place += 1
    return minutes


def _length(problem: Problem, i: int, after: Sequence[int], left: int, best: int) -> int | None:
    """The longest a topic can have so that it and what comes after bring the best; None if it is left out."""
    least, gain = problem.items[i].least, problem.gain[i]
    for minutes in range(min(left, least + len(gain) - 1), least - 1, -1):
        if gain[minutes - least] + after[left - minutes] == best:
            return minutes
    return None


def _row(problem: Problem, i: int, after: list[int], skipped: list[int], room: int, never: int) -> list[int]:
    """One table from the next: the topic at every length it can have, or skipped unless must-discuss."""
    options = [] if problem.must >> i & 1 else [skipped]
    for minutes, worth in enumerate(problem.gain[i], problem.items[i].least):
        if minutes > room:
            break
        options.append([never] * minutes + [value + worth for value in after[: room + 1 - minutes]])
    if not options:
        return [never] * (room + 1)
    return options[0] if len(options) == 1 else list(map(max, *options))
