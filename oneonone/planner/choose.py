"""Which topics, and how long, when no topic is bound to a time: the greatest worth in the room there is.

Prices of the rules give a bound and tell what every decision loses against it; the core of decisions that
lose little is searched in full, under a limit that grows until the best choice is below it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from oneonone.planner.core import core_of
from oneonone.planner.floors import Floor
from oneonone.planner.labels import Labels
from oneonone.planner.losses import Losses
from oneonone.planner.prices import prices
from oneonone.planner.problem import Problem
from oneonone.planner.rules import FINE

LABELS = 150_000
"""Labels made before the search goes on with few of them; what is then left open is stated in the bound."""

MANY = 200
"""Up to so many labels the limit grows threefold, then it doubles: found by trial on random agendas."""


@dataclass(frozen=True, slots=True)
class Choice:
    """The best choice worth more than was known: minutes by topic, and their scaled worth with kappa.

    `minutes` is None, and `value` what was known, where none is found. `bound` is the most that any choice is
    worth; above `value` the search was cut.
    """

    minutes: dict[int, int] | None
    value: int
    bound: int


def choose(problem: Problem, room: int, floors: Sequence[Floor] = (), known: int = -1) -> Choice:
    """The best choice that keeps room and floors and is worth more than `known`, if there is one."""
    losses = Losses(problem, room, floors, prices(problem, room, floors))
    most = losses.ceiling - known * FINE
    limit, done, made = _first(losses), 0, 0
    while done < most:
        labels = _labels(losses, min(limit, most), LABELS - made)
        minutes = labels.best() if labels else None
        ended = labels is None or labels.ended
        bound = (losses.ceiling - done) // FINE
        if minutes is None and not ended:
            labels = _labels(losses, most, 0)
            minutes = labels.best() if labels else None
        if minutes is not None:
            value = value_of(problem, minutes)
            return Choice(_first_in_order(problem, minutes, floors), value, value if ended else bound)
        if not ended:
            return Choice(None, known, bound)
        made += labels.made if labels else 0
        done, limit = limit, limit * (2 if made > MANY else 3)
    return Choice(None, known, known)


def _first_in_order(problem: Problem, minutes: dict[int, int], floors: Sequence[Floor]) -> dict[int, int]:
    """The same worth where ties are settled by the static order: the first is in, and has the minutes.

    A topic can stand for another of the same lengths, worth and side if neither needs or is needed; a minute
    can go to any topic of the side where it brings as much.
    """
    given = minutes.copy()
    for members in _groups(_twins(problem), lambda i: (problem.items[i].least, problem.gain[i]), floors):
        lengths = [given.pop(i) for i in members if i in given]
        given.update(zip(members, lengths, strict=False))
    slope = problem.slope
    short = {slope[i] for i, d in given.items() if d - problem.items[i].least + 1 < len(problem.gain[i])}
    giving = [i for i in sorted(given) if slope[i] in short] if short else []
    for members in _groups(giving, slope.__getitem__, floors):
        more = sum([given[i] - problem.items[i].least for i in members])
        for i in members:
            taken = min(more, len(problem.gain[i]) - 1)
            given[i] = problem.items[i].least + taken
            more -= taken
    return given


def _twins(problem: Problem) -> list[int]:
    """Topics without ties that stand beside one of the same worth at the same minutes in the static order."""
    tied = problem.must
    for before in problem.before:
        tied |= before
    items = problem.items
    same = [
        first.worth == second.worth and first.wanted == second.wanted for first, second in pairwise(items)
    ]
    return [
        i
        for i, (left, right) in enumerate(zip([False, *same], [*same, False], strict=True))
        if (left or right) and not problem.before[i] and not tied >> i & 1
    ]


def _groups(topics: Sequence[int], kind: Callable[[int], object], floors: Sequence[Floor]) -> list[list[int]]:
    """The topics of one kind and one side, where there are several."""
    found: dict[object, list[int]] = {}
    for i in topics:
        found.setdefault((kind(i), *[floor.weight(i) for floor in floors]), []).append(i)
    return [members for members in found.values() if len(members) > 1]


def _labels(losses: Losses, limit: int, most: int) -> Labels | None:
    core = core_of(losses, limit)
    return Labels(core, most) if core else None


def _first(losses: Losses) -> int:
    """Half a minute at the price of the room; a minute and a quarter where no topic can be shorter.

    Where the room costs nothing, a part of the bound. Found by trial on random agendas.
    """
    half = losses.prices.room // 2
    return max(FINE, half if any(losses.rise) else 5 * half // 2, losses.ceiling // 200 if not half else 0)


def value_of(problem: Problem, minutes: Mapping[int, int]) -> int:
    """The scaled worth, kappa included, of topics at those minutes."""
    return sum([problem.worth(i, d) for i, d in minutes.items()])
