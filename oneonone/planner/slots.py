"""The best choice when topics are bound to times or floors: sets near the bound first, then timetables.

Often the best set of the plain knapsack can also be placed. So sets are enumerated from the best down, and
each is fitted to its times; if that does not settle it, timetables are searched (see `timetable`), which
only have to beat the best one found.
"""

from dataclasses import dataclass, field

from oneonone.planner.choose import SetSearch
from oneonone.planner.fit import Fit
from oneonone.planner.floors import Floor, floors_of, ways
from oneonone.planner.lengths import allot
from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import cut, times
from oneonone.planner.timetable import Search, Timetable

FITS = 40
"""Sets fitted to their times before timetables are searched."""

CAP = 60_000
"""Walks of the search of timetables."""


@dataclass(frozen=True, slots=True)
class Placed:
    """The best timetable found, and a bound on the scaled worth of any (equal when proven)."""

    used: tuple[tuple[int, int, int], ...]
    value: int
    bound: int


def place(problem: Problem, room: int) -> Placed | None:
    """The best timetable under the frame's floors and all times; None if nothing keeps every rule."""
    best: Timetable | None = None
    bound = -1
    for way, floors in ways(problem, floors_of(problem), room):
        found, limit = _place_one(way, room, floors, best)
        bound = max(bound, limit)
        if found is not None and (best is None or found.value > best.value):
            best = found
    if best is None:
        return None
    return Placed(best.used, best.value, max(bound, best.value))


def _place_one(
    problem: Problem, room: int, floors: list[Floor], known: Timetable | None
) -> tuple[Timetable | None, int]:
    """A timetable better than `known` if there is one, and a bound."""
    floor = known.value if known else -1
    if sum(problem.items[i].least for i in bits(problem.must)) > room:
        return None, floor
    when = times(problem)
    if problem.must & when.dead:
        return None, floor
    problem = cut(problem, when)
    sets = _Sets(problem, room, chosen=problem.must, times=when, floors=floors, known=floor)
    sets.look()
    if sets.bound <= max(floor, sets.value):
        return sets.found, max(floor, sets.value)
    search = Search(problem, when, room, floors, (1 << problem.size) - 1 & ~when.dead)
    better, limit = search.better_than(max(floor, sets.value), sets.bound, CAP)
    return better or sets.found, limit


@dataclass
class _Sets(SetSearch):
    """Sets from the best down, each fitted to its times."""

    floors: list[Floor] = field(kw_only=True)
    known: int = field(kw_only=True)
    found: Timetable | None = None
    value: int = -1
    fits: int = 0
    sure: bool = True
    fitting: dict[int, bool] = field(default_factory=dict)

    def admits(self, taken: int) -> bool:
        """Whether the topics bound to times, at their least minutes, can be placed."""
        if self.times is None:
            return True
        bound = taken & ~self.times.free
        if bound not in self.fitting:
            least = {i: self.problem.items[i].least for i in bits(bound)}
            fit = Fit(self.problem, self.times, self.room, (), least, partial=True)
            self.fitting[bound] = fit.better_than(-1) is not None or not fit.ended
        return self.fitting[bound]

    def look(self) -> None:
        """Narrow the reach below the bound until a set fits or the tries are used up."""
        reach = 0
        while self.fits < FITS and self.bound > self.known:
            floor = max(self.known, self.bound - 1 - reach)
            self.best = floor
            ended = self.run(self.steps + 1500)
            if ended and self.sure:
                self.bound = max(floor, self.value)
            if self.found or not ended or not self.sure or floor == self.known:
                return
            reach = max(self.bound // 1000, reach * 4)

    def _arrive(self, taken: int) -> None:
        problem = self.problem
        if self.times is None or self.required(taken) & ~taken:
            return
        minutes = allot(problem, bits(taken), self.room)
        fit = Fit(problem, self.times, self.room, self.floors, minutes)
        found = fit.better_than(self.best)
        self.fits += 1
        self.sure = self.sure and fit.ended
        if found is not None:
            self.best, self.found, self.value = found.value, found, found.value

    def stopped(self) -> bool:
        return self.fits >= FITS
