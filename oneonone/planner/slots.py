"""The best choice when topics are bound to times or floors: sets by branch and bound, each then placed.

Which sets to ask about comes from the linear relaxation (see `branch`); whether a set can be placed, and what
it is then worth, from a search of its placements (see `fit`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneonone.planner.branch import Branching
from oneonone.planner.choose import choose, value_of
from oneonone.planner.fit import STEPS, Fit, Offer, Timetable, Used, in_sequence
from oneonone.planner.floors import Floor, ways
from oneonone.planner.lengths import allot, allot_kept, at_lengths
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE, floor_rule, room_rule, span_rules
from oneonone.planner.times import Times, cut, times

QUICK = 400
"""Placements tried for the lengths that are best when only room and floors bind."""

MOST_STEPS = 160_000
"""Placements tried for all sets together; what is then left open is stated in the bound."""


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
    found, bound = _Timetables(cut(problem, when), when, room, floors).better_than(known)
    return replace(nothing, bound=bound) if found is None else _timetabled(found, bound)


def _timetabled(found: Timetable, bound: int) -> Placed:
    return Placed({i: d for i, _, d in found.used}, found.used, found.value, bound)


@dataclass
class _Timetables:
    """Sets of topics under times and floors, each with the best placement found."""

    problem: Problem
    times: Times
    room: int
    floors: Sequence[Floor]
    steps: int = MOST_STEPS
    found: Timetable | None = None
    fitting: dict[int, bool] = field(default_factory=dict)
    never: list[int] = field(default_factory=list)

    def better_than(self, known: int) -> tuple[Timetable | None, int]:
        """The best timetable if worth more than `known`, and a bound on every timetable."""
        problem, when = self.problem, self.times
        alive = [i for i in range(problem.size) if not when.dead >> i & 1]
        rules = [room_rule(problem, alive, self.room), *(floor_rule(floor, alive) for floor in self.floors)]
        spans = span_rules(problem, when, alive)
        search = Branching(problem, alive, rules, spans, self._worth, self._admits, known)
        search.run()
        return self.found, max(search.bound, known)

    def _admits(self, chosen: int) -> bool:
        """Whether a set can still grow into one that can be placed: its topics bound to times can be."""
        if any(not one & ~chosen for one in self.never):
            return False
        bound = chosen & ~self.times.free
        if bound not in self.fitting:
            fit = Fit(self.problem, self.times, self.room, (), bound, None)
            self.fitting[bound] = fit.better_than(-1) is not None or not fit.ended
        return self.fitting[bound]

    def _worth(self, chosen: int, known: int, offer: Offer) -> tuple[int | None, bool]:
        """A set's worth if it can be placed and is worth more than `known`; whether the answer is sure."""
        problem = self.problem
        minutes = self._lengths(bits(chosen))
        value = -1 if minutes is None else value_of(problem, minutes)
        if minutes is None or value <= known:
            return None, True
        if not chosen & ~self.times.free:
            self.found = Timetable(in_sequence(problem, minutes), value)
            return value, True
        if self.floors and self._fitted(at_lengths(problem, minutes), minutes, value, known):
            return value, True
        fit = Fit(problem, self.times, self.room, self.floors, chosen, offer, min(STEPS, self.steps))
        found = fit.better_than(known, value)
        self.steps -= fit.steps
        if found is not None:
            self.found = found
            return found.value, fit.ended
        if fit.ended and not fit.cut:
            self.never.append(chosen)
        return None, fit.ended

    def _lengths(self, topics: Sequence[int]) -> dict[int, int] | None:
        """The best minutes when only room and floors bind; None if they cannot be kept."""
        if self.floors:
            return allot_kept(self.problem, topics, self.room, self.floors)
        minutes = allot(self.problem, topics, self.room)
        return minutes if sum(minutes.values()) <= self.room else None

    def _fitted(self, fixed: Problem, minutes: dict[int, int], value: int, known: int) -> bool:
        """Whether topics can be placed at just these minutes, found without much ado."""
        chosen = sum(1 << i for i in minutes)
        offer = Offer(value * FINE, [0] * fixed.size, 0, ())
        found = Fit(fixed, self.times, self.room, (), chosen, offer, QUICK).better_than(known)
        if found is not None:
            self.found = found
        return found is not None
