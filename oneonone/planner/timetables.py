"""The best timetable under times and floors: sets by branch and bound, each then placed.

Which sets to ask about comes from the linear relaxation (see `branch`). Of a set, times are first drawn
closer (`narrow`), then its worth is bounded as if topics could be interrupted (`spread`); where the lengths
behind that bound can be placed (`fit`), it is the worth. Else placements are searched, at first within few
steps; then gaps between agreed starts are filled in every way (`gaps`), and what is open still is searched in
full.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice

from oneonone.planner.branch import Branching
from oneonone.planner.choose import value_of
from oneonone.planner.dominance import better_ones
from oneonone.planner.fit import STEPS, Fit, Offer, Timetable, in_sequence
from oneonone.planner.floors import Floor
from oneonone.planner.gaps import Gaps
from oneonone.planner.lengths import allot_kept, at_lengths
from oneonone.planner.narrow import narrowed
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE, Rule, floor_rule, room_rule, span_rules
from oneonone.planner.spread import Spread
from oneonone.planner.times import Times, cut

QUICK = 100
"""Placements tried for lengths that are given, and for a set before its gaps are looked at."""

FEW = 6
"""Ways to fill the gaps of a set that are looked at before more of its placements."""

EACH, MANY = 40, 2000
"""Placements tried of a set, for each way to fill its gaps and in all, before all ways are looked at."""

MOST_STEPS = 160_000
"""Placements tried for all sets together; what is then left open is stated in the bound."""


@dataclass(frozen=True, slots=True)
class Case:
    """A set of topics at some times: no timetable of it is worth more than `bound`."""

    bound: int
    problem: Problem
    times: Times


@dataclass(frozen=True, slots=True)
class Open:
    """A set that is not solved: all of it, and if parted at its gaps ways to fill them, and cases of some."""

    case: Case
    fillings: Iterator[tuple[int, Times]] | None
    cases: list[Case]


@dataclass
class Timetables:
    """Sets of topics under times and floors, and the best timetable found."""

    problem: Problem
    times: Times
    room: int
    floors: Sequence[Floor]
    steps: int = MOST_STEPS
    found: Timetable | None = None
    best: int = -1
    fitting: dict[int, bool] = field(default_factory=dict)
    never: list[int] = field(default_factory=list)
    beside: dict[int, tuple[int, list[Rule]]] = field(default_factory=dict)
    drawn: dict[int, Times] = field(default_factory=dict)
    open: dict[int, Open] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._whole_shares()
        when = self.times
        self.alive = [i for i in range(self.problem.size) if not when.dead >> i & 1]
        self.pins = sum(1 << i for i in self.alive if when.earliest[i] == when.latest[i])
        self.spans = span_rules(self.problem, when, self.alive)
        self.known = {rule.entries: rule.bound for rule in self.spans}

    def _whole_shares(self) -> None:
        """Shares that make up the whole leave nothing for topics of neither side, and divide without rest."""
        if len(self.floors) != 2 or any(floor.short for floor in self.floors):
            return
        one, other = self.floors
        parts = one.own + one.others
        if parts == other.own + other.others == one.others + other.others:
            problem, dead = self.problem, self.times.dead
            dead |= (1 << problem.size) - 1 & ~one.members & ~other.members
            dead |= sum(1 << i for i in range(problem.size) if problem.before[i] & dead)
            self.times = replace(self.times, dead=dead)
            self.room -= self.room % parts

    def better_than(self, known: int) -> tuple[Timetable | None, int]:
        """The best timetable if worth more than `known`, and a bound on every timetable.

        The bound is the worth of that timetable, or `known` where there is none, when the search has ended;
        more than that tells that it was cut.
        """
        if self.problem.must & self.times.dead:
            return None, known
        search = Branching(
            self.problem,
            self.alive,
            [
                room_rule(self.alive, self.room),
                *(floor_rule(f, self.alive) for f in self.floors),
            ],
            self.spans,
            self._worth,
            self._admits,
            known,
            first=self.pins,
            better=better_ones(self.problem, self.floors, self.alive),
            beside=self._beside,
            settled=self._settled,
            thorough=self._thoroughly,
        )
        search.run()
        return self.found, max(search.bound, known)

    def _beside(self, inside: int) -> tuple[int, Sequence[Rule]]:
        """The topics that have no place beside agreed starts that are in, and rules that hold with them."""
        pins = inside & self.pins
        if pins not in self.beside:
            when = narrowed(self.problem, self.times, pins, self.alive)
            rules = self._rules(when, [i for i in self.alive if not when.dead >> i & 1])
            self.beside[pins] = when.dead & ~self.times.dead, rules
        return self.beside[pins]

    def _settled(self, chosen: int) -> Sequence[Rule] | None:
        """The rules that hold for just these topics; None if they cannot be placed together."""
        when = self._drawn(chosen)
        if when.dead & chosen:
            self.never.append(chosen)
            return None
        return self._rules(when, bits(chosen))

    def _drawn(self, chosen: int) -> Times:
        if chosen not in self.drawn:
            self.drawn[chosen] = narrowed(self.problem, self.times, chosen, bits(chosen))
        return self.drawn[chosen]

    def _rules(self, when: Times, topics: Sequence[int]) -> list[Rule]:
        """The rules of drawn times that tell more than those of all topics."""
        return [
            rule
            for rule in span_rules(cut(self.problem, when), when, topics)
            if self.known.get(rule.entries, rule.bound + 1) > rule.bound
        ]

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
        """A set's worth if that is more than `known`, and whether that is sure, found without much ado."""
        self.best = known
        case = self._case(chosen, self._drawn(chosen), offer)
        if case is not None and not self._searched(chosen, case, offer, QUICK):
            self.open[chosen] = self._parted(chosen, case, offer)
        return (self.best if self.best > known else None), chosen not in self.open

    def _thoroughly(self, chosen: int, known: int, offer: Offer) -> tuple[int | None, bool]:
        """The same of a set that was not sure."""
        self.best = known
        sure = self._solved(chosen, self.open.pop(chosen), offer)
        return (self.best if self.best > known else None), sure

    def _case(self, chosen: int, times: Times, offer: Offer) -> Case | None:
        """What may be better than the best, once what can be placed without ado is; None if nothing is."""
        topics = bits(chosen)
        times = narrowed(self.problem, times, chosen, topics)
        if times.dead & chosen:
            return None
        problem = cut(self.problem, times)
        spread = Spread(problem, times, self.room, self.floors, topics)
        if not spread.feasible:
            return None
        bound = spread.bound(offer.floors, self.best)
        if self.floors and bound > self.best:
            minutes = allot_kept(problem, topics, spread.room, self.floors)
            bound = min(bound, -1 if minutes is None else value_of(problem, minutes))
            if minutes is not None and bound > self.best:
                self._fitted(problem, times, minutes)
        if spread.kept is not None and bound > self.best:
            self._fitted(problem, times, spread.kept)
        if self.floors and bound > self.best:
            met, bound = spread.kept, min(bound, spread.closer_bound(self.best))
            if spread.kept is not None and spread.kept is not met and bound > self.best:
                self._fitted(problem, times, spread.kept)
        return Case(bound, problem, times) if bound > self.best else None

    def _fitted(self, problem: Problem, times: Times, minutes: dict[int, int]) -> None:
        """Place topics at just these minutes, if that is better than the best and needs little ado."""
        value = value_of(problem, minutes)
        if value <= self.best:
            return
        chosen = sum(1 << i for i in minutes)
        if not chosen & ~times.free:
            self.found, self.best = Timetable(in_sequence(problem, minutes), value), value
            return
        fixed = at_lengths(problem, minutes)
        offer = Offer(value * FINE, [0] * fixed.size, 0, ())
        found = Fit(fixed, times, self.room, (), chosen, offer, QUICK).better_than(self.best)
        if found is not None:
            self.found, self.best = found, value

    def _parted(self, chosen: int, case: Case, offer: Offer) -> Open:
        """What is still open of a set once a few ways to fill its gaps have been looked at."""
        gaps = Gaps(case.problem, case.times, self.room, self.floors, chosen, offer.floors)
        if gaps.settled:
            return Open(case, None, [])
        fillings = gaps.fillings(lambda: self.best)
        return Open(case, fillings, self._filled(chosen, islice(fillings, FEW), offer))

    def _solved(self, chosen: int, left: Open, offer: Offer) -> bool:
        """Find the best timetable of a set; whether it is sure that there is no better one."""
        if left.fillings is None:
            return self._searched(chosen, left.case, offer, STEPS)
        more = list(left.fillings)
        cases = left.cases
        if more and self._searched(chosen, left.case, offer, min(EACH * len(more), MANY)):
            return True
        cases += self._filled(chosen, more, offer)
        sure = True
        for one in sorted(cases, key=lambda one: -one.bound):
            sure = self._searched(chosen, one, offer, STEPS) and sure
        return sure

    def _filled(self, chosen: int, fillings: Iterable[tuple[int, Times]], offer: Offer) -> list[Case]:
        """What may be better than the best when gaps are filled in these ways."""
        cases = [self._case(chosen, times, offer) for bound, times in fillings if bound > self.best]
        return [case for case in cases if case is not None]

    def _searched(self, chosen: int, case: Case, offer: Offer, steps: int) -> bool:
        """Search a case; whether it is sure that it holds nothing better than the best."""
        if case.bound <= self.best:
            return True
        steps = min(steps, self.steps)
        fit = Fit(case.problem, case.times, self.room, self.floors, chosen, offer, steps)
        found = fit.better_than(self.best, case.bound)
        self.steps -= fit.steps
        if found is not None:
            self.found, self.best = found, found.value
        return fit.ended or self.best >= case.bound
