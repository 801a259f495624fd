"""The best choice when topics are bound to times or floors: sets near the bound first, then timetables.

Often the best set of the plain knapsack can also be placed. So sets are enumerated from the best down, and
each is fitted to its times and floors; if that does not settle it, timetables are searched (see `timetable`),
which only have to beat the best one found.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from oneonone.planner.choose import SetSearch, choose
from oneonone.planner.fit import Fit, in_sequence
from oneonone.planner.floors import Floor, floor_prices, ways, with_prices
from oneonone.planner.lengths import allot, allot_kept, at_lengths
from oneonone.planner.problem import Problem, bits
from oneonone.planner.shares import separable, shared
from oneonone.planner.times import Times, cut, times
from oneonone.planner.timetable import Search, Timetable

FITS = 120
"""Sets fitted to their times before timetables are searched."""

STEPS = 8_000
"""Steps of the enumeration of sets before timetables are searched."""

FAR = 1 << 80
"""More than any worth."""

PAIRS = 400
"""Pairs of topics of different sides tried together when floors are hard to keep."""

CAP = 500
"""Walks of the search of timetables before it keeps only the most promising."""


@dataclass(frozen=True, slots=True)
class Placed:
    """The best timetable found, and a bound on the scaled worth of any (equal when proven)."""

    used: tuple[tuple[int, int, int], ...]
    value: int
    bound: int


def place(problem: Problem, room: int, floors: Sequence[Floor]) -> Placed | None:
    """The best timetable under all floors and times; None if nothing keeps every rule."""
    best: Timetable | None = None
    bound = -1
    for way, kept in ways(problem, floors, room):
        found, limit = _place_one(way, room, kept, best.value if best else -1)
        bound = max(bound, limit)
        if found is not None:
            best = found
    if best is None:
        return None
    return Placed(best.used, best.value, max(bound, best.value))


def must_alone(problem: Problem, room: int) -> Placed | None:
    """What is must-discuss and nothing else, at its times, floors aside; None if that cannot be placed."""
    found = _must_alone(problem, times(problem), room, ())
    return None if found is None else Placed(found.used, found.value, found.value)


def _place_one(
    problem: Problem, room: int, floors: Sequence[Floor], known: int
) -> tuple[Timetable | None, int]:
    """A timetable worth more than `known` if there is one, and a bound."""
    if sum(problem.items[i].least for i in bits(problem.must)) > room:
        return None, known
    if floors and separable(problem):
        return _by_shares(problem, room, floors, known)
    if not floors and not problem.timed:
        choice = choose(problem, room)
        plain = Timetable(in_sequence(problem, choice.minutes), choice.value)
        return plain if choice.value > known else None, max(known, choice.bound)
    when = times(problem)
    if problem.must & when.dead:
        return None, known
    problem = cut(problem, when)
    prices = floor_prices(problem, floors, room)
    sets = _Sets(
        with_prices(problem, floors, prices),
        room,
        times=when,
        plain=problem,
        floors=floors,
        prices=prices,
        known=known,
    )
    sets.look()
    value = max(known, sets.value)
    if sets.bound <= value:
        return sets.found, value
    found = sets.found
    if found is None and known < 0:
        found = _grown(problem, when, room, floors)
        value = found.value if found else known
    search = Search(problem, when, room, floors, (1 << problem.size) - 1 & ~when.dead)
    better, limit = search.better_than(value, sets.bound, CAP)
    return better or found, max(limit, value)


def _by_shares(
    problem: Problem, room: int, floors: Sequence[Floor], known: int
) -> tuple[Timetable | None, int]:
    minutes = shared(problem, room, floors)
    value = sum(problem.worth(i, d) for i, d in minutes.items()) if minutes is not None else -1
    if minutes is None or value <= known:
        return None, known
    return Timetable(in_sequence(problem, minutes), value), value


def _must_alone(problem: Problem, when: Times, room: int, floors: Sequence[Floor]) -> Timetable | None:
    """A placement of exactly what is must-discuss."""
    minutes = allot(problem, bits(problem.must), room)
    if sum(minutes.values()) > room or problem.must & when.dead:
        return None
    if not minutes:
        return Timetable((), 0)
    return Fit(problem, when, room, floors, minutes).better_than(-1)


def _grown(problem: Problem, when: Times, room: int, floors: Sequence[Floor]) -> Timetable | None:
    """What is must-discuss and then, in the static order, every topic that can still be placed.

    Under floors a topic of one side may only come in together with one of another.
    """
    best = _must_alone(problem, when, room, floors)
    chosen = problem.must
    size = problem.size
    steps = [1 << i for i in range(size)]
    if floors:
        side = [item.side for item in problem.items]
        steps += [1 << i | 1 << j for i in range(size) for j in range(i) if side[i] != side[j]][:PAIRS]
    for step in steps:
        more = chosen | step
        for i in bits(step):
            more |= problem.before[i]
        if more == chosen or more & when.dead:
            continue
        found = _fitted(problem, when, room, floors, more, best.value if best else -1)
        if found is not None:
            best, chosen = found, more
    return best


def _fitted(
    problem: Problem, when: Times, room: int, floors: Sequence[Floor], chosen: int, known: int
) -> Timetable | None:
    """A timetable of a set worth more than `known`, at its best lengths that keep the floors."""
    topics = bits(chosen)
    if sum(problem.items[i].least for i in topics) > room:
        return None
    if not floors:
        return Fit(problem, when, room, (), allot(problem, topics, room), most_steps=200).better_than(known)
    minutes = allot_kept(problem, topics, room, floors)
    if minutes is None:
        return None
    return Fit(at_lengths(problem, minutes), when, room, (), minutes, most_steps=200).better_than(known)


@dataclass
class _Sets(SetSearch):
    """Sets from the best down, each fitted to its times; the problem has the prices of its floors in."""

    times: Times = field(kw_only=True)
    plain: Problem = field(kw_only=True)
    floors: Sequence[Floor] = field(kw_only=True)
    prices: Sequence[int] = field(kw_only=True)
    known: int = field(kw_only=True)
    found: Timetable | None = None
    value: int = -1
    fits: int = 0
    sure: bool = True
    fitting: dict[int, bool] = field(default_factory=dict)

    def look(self) -> None:
        """Narrow the reach below the bound until the best set is known or the tries are used up."""
        base = sum(price * floor.short for price, floor in zip(self.prices, self.floors, strict=True))
        self.base = base
        self.bound += base
        reach = 0
        while self.fits < FITS and self.steps < STEPS and self.bound > max(self.known, self.value):
            floor = max(self.known, self.value, self.bound - 1 - reach)
            self.best = floor
            ended = self.run(STEPS)
            if not ended:
                return
            if self.sure:
                self.bound = max(floor, self.value)
            elif floor <= max(self.known, self.value):
                return
            reach = max(self.bound // 500, reach * 3)

    def admits(self, taken: int) -> bool:
        """Whether the topics bound to times, at their least minutes, can be placed."""
        bound = taken & ~self.times.free
        if bound not in self.fitting:
            least = {i: self.problem.items[i].least for i in bits(bound)}
            fit = Fit(self.problem, self.times, self.room, (), least, partial=True)
            self.fitting[bound] = fit.better_than(-FAR) is not None or not fit.ended
        return self.fitting[bound]

    def _arrive(self, taken: int) -> None:
        if self.required(taken) & ~taken:
            return
        chosen = bits(taken)
        if not self.floors:
            self._fit(Fit(self.problem, self.times, self.room, (), allot(self.problem, chosen, self.room)))
            return
        minutes = allot_kept(self.plain, chosen, self.room, self.floors)
        if minutes is None or sum(self.plain.worth(i, d) for i, d in minutes.items()) <= self.best:
            return
        if self._fit(Fit(at_lengths(self.plain, minutes), self.times, self.room, (), minutes)):
            return
        if taken & ~self.times.free:
            minutes = allot(self.problem, chosen, self.room)
            self._fit(Fit(self.problem, self.times, self.room, self.floors, minutes, self.prices))

    def _fit(self, fit: Fit) -> bool:
        """Keep what fits if it is worth more than the best; whether it does."""
        found = fit.better_than(self.best)
        self.fits += 1
        if found is None:
            self.sure = self.sure and fit.ended
            return False
        self.best, self.found, self.value = found.value, found, found.value
        self.sure = self.sure and fit.ended
        return True

    def stopped(self) -> bool:
        return self.fits >= FITS
