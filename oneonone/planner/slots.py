"""The best choice when topics are bound to times or floors: sets by branch and bound, each then placed.

Which sets to ask about comes from the linear relaxation (see `branch`); whether a set can be placed, and what
it is then worth, from a search of its placements (see `fit`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from oneonone.planner.choose import choose, value_of
from oneonone.planner.fit import Fit, Offer, Timetable, Used
from oneonone.planner.floors import Floor, ways
from oneonone.planner.lengths import allot
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE
from oneonone.planner.times import cut, times
from oneonone.planner.timetables import Timetables


@dataclass(frozen=True, slots=True)
class Placed:
    """The best choice found: minutes by topic, starts where times bind, scaled worth, and a bound on any.

    `minutes` is None where nothing was found; then a `bound` below nought says that nothing keeps every rule,
    any other that the search was cut before it ended. Else the bound equals `value` when proven.
    """

    minutes: Mapping[int, int] | None
    used: tuple[Used, ...] | None
    value: int
    bound: int

    @property
    def impossible(self) -> bool:
        return self.bound < 0


def place(problem: Problem, room: int, floors: Sequence[Floor]) -> Placed:
    """The best choice under all floors and times."""
    best = Placed(None, None, -1, -1)
    bound = -1
    for way, kept in ways(problem, floors, room):
        found = _place_one(way, room, kept, best.value)
        bound = max(bound, found.bound)
        if found.minutes is not None:
            best = found
    return replace(best, bound=max(bound, best.value))


def must_alone(problem: Problem, room: int) -> Placed:
    """What is must-discuss and nothing else, at its times, floors aside."""
    topics = bits(problem.must)
    if not topics:
        return Placed({}, (), 0, 0)
    when = times(problem)
    ceiling = value_of(problem, allot(problem, topics, room)) * FINE
    offer = Offer(ceiling, [0] * problem.size, 0, ())
    fit = Fit(cut(problem, when), when, room, (), problem.must, offer)
    found = fit.better_than(-1)
    if found is None:
        return Placed(None, None, -1, -1 if fit.ended else ceiling // FINE)
    return _timetabled(found, found.value)


def _place_one(problem: Problem, room: int, floors: Sequence[Floor], known: int) -> Placed:
    """The best choice worth more than `known` if there is one, floors kept by shares alone."""
    nothing = Placed(None, None, known, known)
    if sum([problem.items[i].least for i in bits(problem.must)]) > room:
        return nothing
    if not problem.timed:
        choice = choose(problem, room, floors, known)
        return Placed(choice.minutes, None, choice.value, choice.bound)
    when = times(problem)
    if problem.must & when.dead:
        return nothing
    found, bound = Timetables(cut(problem, when), when, room, floors).better_than(known)
    return replace(nothing, bound=bound) if found is None else _timetabled(found, bound)


def _timetabled(found: Timetable, bound: int) -> Placed:
    return Placed({i: d for i, _, d in found.used}, found.used, found.value, bound)
