"""The rule of the order, step by step; each step is settled before the next.

What must be discussed or is called first comes first and keeps its time. What else fits comes in, what matters
more before what matters less; the minutes that are left go to those who asked for more, in the same order; and
within one rank what is worth more a minute goes earlier.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneonone.planner.explain import Outcome, shortage
from oneonone.planner.gaps import Placement, can_place, cut, lengthen, place
from oneonone.planner.knapsack import Budget, Choice
from oneonone.planner.model import FIRST, IF_TIME, IN_TURN, Frame, Item, Plan
from oneonone.planner.order import Sequencing
from oneonone.planner.problem import Problem, read
from oneonone.planner.reasons import Reason, reason


def plan(items: Sequence[Item], frame: Frame) -> Plan:
    """The boxed order of these topics. Raises `PlannerRefusal` for input that cannot be planned.

    Topics that must be discussed but do not fit together are stated in `infeasible`; the plan then holds those
    of most worth that do.
    """
    return Steps(read(items, frame)).plan()


@dataclass
class Steps:
    """The steps over one problem. `placement` is what is in so far, with minutes and gaps."""

    problem: Problem
    budget: Budget = field(default_factory=Budget)

    def __post_init__(self) -> None:
        problem = self.problem
        self.placement = Placement(problem, cut(problem, ()) or ())
        self.timed = frozenset(i for i in problem.topics if problem.start[i] is not None)
        self.outside = frozenset(i for i in self.timed if self._start_is_lost(i))
        self.came = dict[int, int]()
        self.step = 0

    def _start_is_lost(self, i: int) -> bool:
        """Whether an agreed start cannot be kept whatever else is in: outside the room, or before what it needs."""
        problem, frame, start = self.problem, self.problem.frame, self.problem.start[i] or 0
        return not frame.opening <= start <= frame.end - problem.least[i] or any(
            (problem.start[j] or 0) + problem.least[j] > start for j in problem.needs_all[i] & self.timed
        )

    def plan(self) -> Plan:
        """All steps, and what they come to."""
        self.settle()
        outcome = self.sequence()
        missing = shortage(self.problem, self.musts, self.placement.minutes)
        return Plan(
            slots=outcome.slots,
            left_out=outcome.left_out,
            worth=outcome.worth_by_rank,
            unproven=self.budget.unproven,
            given_up=outcome.given_up,
            infeasible=missing,
            ways_out=() if missing is None else self.ways_out(),
        )

    def settle(self) -> None:
        """Steps 1 to 6: what is in, in which gap, for how long."""
        problem = self.problem
        self._must_and_agreed()
        self._choose([i for i in problem.topics if problem.rank[i] == FIRST], problem.least)
        lengthen(self.placement, self.placement.minutes.keys(), problem.keep)
        self._choose([i for i in problem.topics if problem.items[i].by_hand], problem.least)
        lengthen(self.placement, self.placement.minutes.keys(), problem.keep)
        for rank in (IN_TURN, IF_TIME):
            ranked = [i for i in problem.topics if problem.rank[i] == rank]
            self._choose(ranked, problem.keep)
            self._choose(ranked, problem.least)
            lengthen(self.placement, self.placement.minutes.keys(), problem.keep)
        groups = self._outcome().groups
        for group in (0, 1, 2):
            lengthen(
                self.placement, [i for i in self.placement.minutes if groups[i] == group], problem.wanted
            )

    def _must_and_agreed(self) -> None:
        """Steps 1 and 2, and the gaps of what must be discussed and of what agreed topics need."""
        problem = self.problem
        must = [i for i in problem.topics if problem.items[i].must]
        self.musts = problem.with_needs(must)
        inside = self._chosen_must(must)
        self._note(inside)
        agreed = self._chosen_agreed(inside)
        self.step += 1
        self._note(agreed)
        gaps = cut(problem, (inside | agreed) & self.timed)
        assert gaps is not None
        heads = {gap.agreed: g for g, gap in enumerate(gaps) if gap.agreed is not None}
        least = problem.least
        self.placement = Placement(problem, gaps, {i: least[i] for i in heads}, heads)
        first, needed = sorted(inside - self.timed), sorted(agreed - self.timed)
        self._put(first, place(self.placement, first, needed, least, self.budget), least)
        self._put(needed, place(self.placement, needed, (), least, self.budget), least)

    def _chosen_must(self, must: Sequence[int]) -> frozenset[int]:
        """All topics that must be discussed with what they need, or those of most worth that fit."""
        everything = self.musts
        if not everything & self.outside and self._starts_fit(everything):
            return everything
        room = self.problem.frame.room
        return Choice(
            self.problem,
            must,
            frozenset(),
            self.problem.least,
            room,
            self.budget,
            self._starts_fit if everything & self.timed else None,
            barred=self.outside,
        ).best()

    def _chosen_agreed(self, inside: frozenset[int]) -> frozenset[int]:
        """The agreed topics of most worth that fit beside those, with what they need."""
        if not self.timed - inside:
            return frozenset()
        return Choice(
            self.problem,
            sorted(self.timed),
            inside,
            self.problem.least,
            self.problem.frame.room,
            self.budget,
            lambda more: self._starts_fit(inside | more),
            clocked=True,
            barred=self.outside,
        ).best()

    def _starts_fit(self, topics: frozenset[int]) -> bool:
        """Whether these topics fit at their least minutes, the agreed ones at their starts."""
        problem, least = self.problem, self.problem.least
        self.budget.spend(len(topics) + 10)
        if sum(least[i] for i in topics) > problem.frame.room:
            return False
        gaps = cut(problem, topics & self.timed)
        if gaps is None:
            return False
        heads = {gap.agreed: g for g, gap in enumerate(gaps) if gap.agreed is not None}
        held = Placement(problem, gaps, {i: least[i] for i in heads}, heads)
        return can_place(held, sorted(topics - self.timed), least, self.budget) is not None

    def _choose(self, pool: Sequence[int], minutes: Sequence[int]) -> None:
        """Bring in the set of most worth of a pool that fits at these minutes, and settle its gaps."""
        placement, inside = self.placement, frozenset(self.placement.minutes)
        self.step += 1
        barred = self.timed - inside
        pool = [i for i in pool if i not in inside]
        if not pool:
            return
        free = placement.free()
        alone = len(placement.gaps) == 1

        def fits(topics: frozenset[int]) -> bool:
            return can_place(placement, sorted(topics), minutes, self.budget) is not None

        chosen = Choice(
            self.problem,
            pool,
            inside,
            minutes,
            sum(free),
            self.budget,
            None if alone else fits,
            barred=barred,
            alike=self._alike(pool, inside, minutes),
        ).best()
        line = sorted(chosen)
        self._put(line, place(placement, line, (), minutes, self.budget), minutes)

    def _alike(
        self, pool: Sequence[int], inside: frozenset[int], minutes: Sequence[int]
    ) -> dict[int, tuple[int, ...]]:
        """Topics tied to none that is still to be chosen, by what their placing hangs on."""
        needs, gap_of = self.problem.needs, self.placement.gap_of
        outside = [i for i in self.problem.with_needs(pool) if i not in inside]
        tied = {i for i in outside if needs[i] - inside} | {j for i in outside for j in needs[i]}
        return {
            i: (minutes[i], max([gap_of[j] for j in needs[i]], default=0)) for i in outside if i not in tied
        }

    def _put(self, topics: Iterable[int], gap_of: dict[int, int], minutes: Sequence[int]) -> None:
        for i in topics:
            self.placement.gap_of[i] = gap_of[i]
            self.placement.minutes[i] = minutes[i]
        self._note(topics)

    def _note(self, topics: Iterable[int]) -> None:
        for i in topics:
            self.came.setdefault(i, self.step)

    def _outcome(self, lines: Sequence[Sequence[int]] = (), swapped: Mapping[int, int] = {}) -> Outcome:
        return Outcome(self.problem, self.placement, self.came, lines, swapped)

    def ways_out(self) -> tuple[Reason, ...]:
        """What would get all in that must be discussed: fewer of them, a longer meeting, or another start."""
        problem, frame = self.problem, self.problem.frame
        out = sorted(self.musts - self.placement.minutes.keys())
        found = [
            reason(
                "not_must",
                *(problem.items[i].key for i in out if problem.items[i].must),
                minutes=sum(problem.least[i] for i in out),
            )
        ]
        needed = sum(problem.least[i] for i in self.musts)
        for more in range(max(1, needed - frame.room), needed + 1):
            longer = replace(problem, frame=replace(frame, minutes=frame.minutes + more))
            if self._all_fit(longer):
                found.append(reason("lengthen", minutes=more))
                break
        for i in sorted(self.musts & self.timed):
            items = tuple(
                replace(item, start=None) if j == i else item for j, item in enumerate(problem.items)
            )
            if self._all_fit(replace(problem, items=items)):
                found.append(reason("lift_start", problem.items[i].key, start=problem.start[i] or 0))
        return tuple(found)

    def _all_fit(self, problem: Problem) -> bool:
        other = Steps(problem)
        return not self.musts & other.outside and other._starts_fit(self.musts)

    def sequence(self) -> Outcome:
        """Step 7: the order of each gap, an agreed topic first."""
        problem, placement = self.problem, self.placement
        ranks = self._outcome().ranks
        lines = []
        for g, gap in enumerate(placement.gaps):
            topics = sorted(i for i, at in placement.gap_of.items() if at == g and i != gap.agreed)
            ahead = {i: {j for j in problem.needs[i] if j in topics} for i in topics}
            for one, other in problem.pairs:
                if other in ahead and one in ahead:
                    ahead[other].add(one)
            order = Sequencing(topics, placement.minutes, problem.worth, ranks, ahead, self.budget).best()
            lines.append(order if gap.agreed is None else [gap.agreed, *order])
        return self._outcome(lines, _swap_sensitive(problem, placement, ranks, lines))


def _swap_sensitive(
    problem: Problem, placement: Placement, ranks: Mapping[int, int], lines: list[list[int]]
) -> dict[int, int]:
    """A sensitive topic that opens the meeting, and next one that ends it, goes further in if it can."""
    changed = dict[int, int]()
    for end in (0, -1):
        filled = [line for line in lines if line]
        if not filled:
            break
        line = filled[end]
        ends = (filled[0][0], filled[-1][-1])
        i = line[end]
        if not problem.items[i].sensitive or placement.heads(i):
            continue
        others = line[1:] if end == 0 else line[-2::-1]
        for j in others:
            blocked = problem.items[j].sensitive or placement.heads(j) or j in ends
            if ranks[j] == ranks[i] and not blocked:
                swapped = [{i: j, j: i}.get(k, k) for k in line]
                if _allowed(problem, swapped):
                    line[:] = swapped
                    changed |= {i: j, j: i}
                break
    return changed


def _allowed(problem: Problem, line: Sequence[int]) -> bool:
    """Whether a gap's order keeps `after` and the pairs of the order; a pair with an agreed topic is not asked."""
    place = {i: k for k, i in enumerate(line)}
    return all(place[j] < k for i, k in place.items() for j in problem.needs[i] if j in place) and all(
        place[one] < place[other]
        for one, other in problem.pairs
        if one in place and other in place and problem.start[other] is None
    )
