"""The rule of the order, step by step; each step is settled before the next.

What must be discussed or is called first comes first and keeps its time. What else fits comes in, what
matters more before what matters less; the minutes that are left go to those who asked for more, in the same
order; and within one rank what is worth more a minute goes earlier.
"""

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneonone.planner.explain import Outcome, shortage
from oneonone.planner.gaps import Placement, at_starts, can_place, lengthen, place
from oneonone.planner.knapsack import Budget, Choice, Kind
from oneonone.planner.model import FIRST, IF_TIME, IN_TURN, Frame, Item, Plan
from oneonone.planner.order import in_order, swap_sensitive
from oneonone.planner.problem import Problem, read
from oneonone.planner.reasons import Reason, reason

MOST_STEPS = 1_000
"""Steps for each question whether a way out of a shortage lets all in."""


def plan(items: Sequence[Item], frame: Frame) -> Plan:
    """The boxed order of these topics. Raises `PlannerRefusal` for input that cannot be planned.

    When topics that must be discussed do not fit together, `infeasible` says so, and the plan holds those of
    most worth that do.
    """
    return Steps(read(items, frame)).plan()


@dataclass
class Steps:
    """The steps over one problem: `placement` is what is in so far, `came` the step at which each came in."""

    problem: Problem
    budget: Budget = field(default_factory=Budget)
    came: dict[int, int] = field(default_factory=dict)
    step: int = 0

    def plan(self) -> Plan:
        """All steps, and what they come to."""
        problem = self.problem
        self.must_and_agreed()
        self.choose([i for i in problem.topics if problem.rank[i] == FIRST], problem.least)
        lengthen(self.placement, self.came, problem.keep)
        self.choose([i for i in problem.topics if problem.items[i].by_hand], problem.least)
        lengthen(self.placement, self.came, problem.keep)
        for rank in (IN_TURN, IF_TIME):
            ranked = [i for i in problem.topics if problem.rank[i] == rank]
            self.choose(ranked, problem.keep)
            self.choose(ranked, problem.least)
            lengthen(self.placement, self.came, problem.keep)
        outcome = Outcome(problem, self.placement, self.came)
        groups = outcome.groups
        for group in (0, 1, 2):
            lengthen(self.placement, [i for i, own in groups.items() if own == group], problem.wanted)
        lines = in_order(self.placement, outcome.ranks, self.budget)
        outcome = replace(outcome, swapped=swap_sensitive(self.placement, outcome.ranks, lines), lines=lines)
        missing = shortage(problem, self.musts, self.came)
        return Plan(
            slots=outcome.slots,
            left_out=outcome.left_out,
            worth=outcome.worth_by_rank,
            unproven=self.budget.unproven,
            given_up=outcome.given_up,
            infeasible=missing,
            ways_out=() if missing is None else self.ways_out(),
        )

    def must_and_agreed(self) -> None:
        """Steps 1 and 2, and the gaps of what must be discussed and of what agreed topics need."""
        problem, least = self.problem, self.problem.least
        must = [i for i in problem.topics if problem.items[i].must]
        self.musts = inside = problem.with_needs(must)
        if not self.fit_at_starts(inside):
            inside = self.at_least(must, frozenset())
        agreed = self.at_least(sorted(problem.timed), inside)
        self.placement = at_starts(problem, (inside | agreed) & problem.timed) or Placement(problem, ())
        self.came = dict.fromkeys(inside, 0) | dict.fromkeys(agreed, 1)
        self.step = 1
        first, needed = sorted(inside - problem.timed), sorted(agreed - problem.timed)
        self.put(place(self.placement, first, needed, least, self.budget), least)
        self.put(place(self.placement, needed, (), least, self.budget), least)

    def at_least(self, pool: Sequence[int], inside: frozenset[int]) -> frozenset[int]:
        """The set of most worth of a pool that fits at its least minutes, while there are no gaps yet."""
        if inside.issuperset(pool):
            return frozenset()
        least = self.problem.least
        room = self.problem.frame.room - sum(least[i] for i in inside)

        def fits(more: frozenset[int]) -> bool:
            return self.fit_at_starts(inside | more)

        return Choice(self.problem, pool, inside, frozenset(), least, room, {}, fits, self.budget).best()

    def fit_at_starts(self, topics: frozenset[int]) -> bool:
        """Whether these topics fit at their least minutes, the agreed ones at their starts."""
        least, timed = self.problem.least, self.problem.timed
        self.budget.spend(len(topics) + 10)
        if sum(least[i] for i in topics) > self.problem.frame.room:
            return False
        held, rest = at_starts(self.problem, topics & timed), sorted(topics - timed)
        return held is not None and can_place(held, rest, least, self.budget, False) is not None

    def choose(self, pool: Sequence[int], minutes: Sequence[int]) -> None:
        """Bring in the set of most worth of a pool that fits at these minutes, and settle its gaps."""
        placement, inside = self.placement, frozenset(self.came)
        self.step += 1
        if inside.issuperset(pool):
            return

        def fits(topics: frozenset[int]) -> bool:
            return can_place(placement, sorted(topics), minutes, self.budget, False) is not None

        chosen = Choice(
            self.problem,
            pool,
            inside,
            self.problem.timed - inside,
            minutes,
            sum(placement.free()),
            self.kinds(pool, minutes),
            fits if len(placement.gaps) > 1 else None,
            self.budget,
        ).best()
        self.put(place(placement, sorted(chosen), (), minutes, self.budget), minutes)

    def kinds(self, pool: Sequence[int], minutes: Sequence[int]) -> dict[int, Kind]:
        """For topics tied to none that may still come in what their placing hangs on: minutes, first gap."""
        needs, gap_of = self.problem.needs, self.placement.gap_of
        outside = self.problem.with_needs(pool) - self.came.keys()
        tied = {i for i in outside if needs[i] - self.came.keys()}.union(*(needs[i] for i in outside))
        return {i: (minutes[i], max([gap_of[j] for j in needs[i]], default=0)) for i in outside - tied}

    def put(self, gap_of: Mapping[int, int], minutes: Sequence[int]) -> None:
        """Settle topics in their gaps at these minutes."""
        for i, g in gap_of.items():
            self.placement.gap_of[i] = g
            self.placement.minutes[i] = minutes[i]
            self.came.setdefault(i, self.step)

    def ways_out(self) -> tuple[Reason, ...]:
        """What would get all in that must be discussed: fewer of them, a longer meeting, or another start."""
        items, least, frame = self.problem.items, self.problem.least, self.problem.frame
        out = sorted(self.musts - self.came.keys())
        keys = [items[i].key for i in out if items[i].must]
        found = [reason("not_must", *keys, minutes=sum(least[i] for i in out))]
        most = sum(least[i] for i in self.musts)
        longer = [replace(frame, minutes=frame.minutes + more) for more in range(1, most + 1)]
        at = bisect_left(longer, True, key=lambda frame: self.all_fit(items, frame))
        if at < most:
            found.append(reason("lengthen", minutes=at + 1))
        for i in sorted(self.musts & self.problem.timed):
            moved = [replace(item, start=None) if item is items[i] else item for item in items]
            if self.all_fit(moved, frame):
                found.append(reason("lift_start", items[i].key, start=items[i].start or 0))
        return tuple(found)

    def all_fit(self, items: Sequence[Item], frame: Frame) -> bool:
        """Whether all that must be discussed would fit; more minutes at the end never take that away."""
        problem = read(items, replace(frame, order=()))
        return Steps(problem, Budget(MOST_STEPS)).fit_at_starts(self.musts)
