"""The gaps between agreed starts: which topics can be placed in them, where best, and how they lengthen.

Gaps are settled as topics come in: what has a gap keeps it.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import heapify, heappop, heappush

from oneonone.planner.knapsack import Budget
from oneonone.planner.problem import Problem

LAST_STEPS, MOST_STEPS = 100, 200_000
"""Steps for one question once the budget is spent, and for a placing that is known to exist."""


@dataclass(frozen=True, slots=True)
class Gap:
    """The minutes from an agreed start, or from the opening, to the next agreed start or the closing."""

    start: int
    end: int
    agreed: int | None = None

    @property
    def size(self) -> int:
        return self.end - self.start


@dataclass
class Placement:
    """The topics that are in, with their minutes, and their gaps once they have one."""

    problem: Problem
    gaps: tuple[Gap, ...]
    minutes: dict[int, int] = field(default_factory=dict)
    gap_of: dict[int, int] = field(default_factory=dict)

    def free(self) -> list[int]:
        """The minutes left in each gap."""
        left = [gap.size for gap in self.gaps]
        for i, g in self.gap_of.items():
            left[g] -= self.minutes[i]
        return left

    def heads(self, i: int) -> bool:
        """Whether a topic begins its gap at an agreed start."""
        return i in self.gap_of and self.gaps[self.gap_of[i]].agreed == i

    def turns(self, topics: Collection[int], by_order: bool, weight: Sequence[float]) -> "list[Turn] | None":
        """The topics in the order in which to place them, heavy ones first; None if one has no gap.

        None comes before one that it needs, or, `by_order`, that the order puts before it. Topics that have a
        gap bound those of the others.
        """
        problem, gap_of = self.problem, self.gap_of
        last = {i: g - self.heads(i) for i, g in gap_of.items()}
        low = dict.fromkeys(topics, 0) | gap_of
        high = dict.fromkeys(topics, len(self.gaps) - 1) | last
        ahead: dict[int, set[int]] = {i: set() for i in topics}
        ties = [(j, i) for i in low for j in problem.needs[i]]
        for one, other in [*ties, *problem.pairs] if by_order else ties:
            if one in ahead and other in ahead:
                ahead[other].add(one)
            elif one in low and other in low:
                low[other], high[one] = max(low[other], low[one]), min(high[one], high[other])
        if any(low[i] > g or high[i] < last[i] for i, g in gap_of.items()):
            return None
        return _in_turn(sorted(topics, key=lambda i: (-weight[i], i)), low, high, ahead)


@dataclass(frozen=True, slots=True)
class Turn:
    """A topic to place, with its first and last gap.

    `ahead` are the places, in the line of turns, of topics that it cannot stand in an earlier gap than;
    `waited_for` those up to here that later turns name so.
    """

    topic: int
    low: int
    high: int
    ahead: tuple[int, ...]
    waited_for: tuple[int, ...]

    def gaps(self, placed: Sequence[int]) -> range:
        """The gaps it can stand in, given those of the turns before it."""
        first = max([self.low, *[placed[k] for k in self.ahead]]) if self.ahead else self.low
        return range(first, self.high + 1)


def _in_turn(
    left: list[int], low: dict[int, int], high: dict[int, int], ahead: Mapping[int, set[int]]
) -> list[Turn] | None:
    """Turns in the order given, but each behind those ahead of it, with what follows for the gaps of each."""
    line: dict[int, int] = {}
    while left:
        i = next(i for i in left if ahead[i] <= line.keys())
        left.remove(i)
        line[i] = len(line)
        low[i] = max([low[i], *[low[j] for j in ahead[i]]])
    until = dict(line)
    for i in reversed(line):
        for j in ahead[i]:
            high[j] = min(high[j], high[i])
            until[j] = max(until[j], line[i])
    if any(low[i] > high[i] for i in line):
        return None
    waited_for = [tuple([line[j] for j in line if line[j] <= k < until[j]]) for k in range(len(line))]
    places = {i: tuple([line[j] for j in ahead[i]]) for i in line}
    return [Turn(i, low[i], high[i], places[i], waited_for[k]) for i, k in line.items()]


def at_starts(problem: Problem, agreed: Iterable[int]) -> Placement | None:
    """These topics at their starts and least minutes, with the gaps they cut; None if they collide.

    The first gap is the one from the opening, empty if a topic starts there.
    """
    frame, heads = problem.frame, sorted(agreed, key=lambda i: (problem.start[i] or 0, i))
    edges = [frame.opening, *(problem.start[i] or 0 for i in heads), frame.end]
    gaps = [Gap(start, end, i) for start, end, i in zip(edges, edges[1:], (None, *heads), strict=False)]
    if any(gap.size < (0 if gap.agreed is None else problem.least[gap.agreed]) for gap in gaps):
        return None
    minutes = {i: problem.least[i] for i in heads}
    return Placement(problem, tuple(gaps), minutes, {i: g for g, i in enumerate(heads, 1)})


def can_place(
    placement: Placement, topics: Collection[int], minutes: Sequence[int], budget: Budget, by_order: bool
) -> dict[int, int] | None:
    """A gap for each of these topics at these minutes, longest first; None if there is none.

    `budget.gave_up` grows if none was found before the steps ran out.
    """
    turns, free = placement.turns(topics, by_order, minutes), placement.free()
    budget.spend(2 * len(topics))
    if turns is None or min(free) < 0:
        return None
    failed = set[tuple[object, ...]]()
    placed: list[int] = []
    last = min(budget.left, 0) - LAST_STEPS

    def fill(k: int) -> bool:
        if k == len(turns):
            return True
        waited_for = turns[k - 1].waited_for if k else ()
        state = (k, tuple(free), tuple([placed[p] for p in waited_for]))
        if state in failed or budget.left < last:
            return False
        budget.spend(1)
        size = minutes[turns[k].topic]
        for g in turns[k].gaps(placed):
            if free[g] >= size:
                free[g] -= size
                placed.append(g)
                if fill(k + 1):
                    return True
                placed.pop()
                free[g] += size
        failed.add(state)
        return False

    if fill(0):
        return {turn.topic: g for turn, g in zip(turns, placed, strict=True)}
    budget.gave_up += budget.left < last
    return None


State = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
"""Minutes free in each gap; minutes free there if all had their keep; gaps of topics that others wait for."""

Label = tuple[int, int, int, tuple[int, ...]]
"""Minutes missing towards keep, worth times first minutes, gaps by the static order as a number; gaps."""

BEAM = 40
"""States that go on from each topic in the first pass."""


@dataclass
class Placing:
    """The best gaps for a chosen set: topic by topic, every way to fill the gaps once, with bounds.

    `chosen` are placed for good; others of the turns only have to fit beside them. Fewest minutes are missing
    towards keep in the gaps, then worth times the gap's first free minute is least, then topics stand in
    earlier gaps by the static order. A way is dropped if it cannot end below the best known.
    """

    placement: Placement
    chosen: Collection[int]
    turns: Sequence[Turn]
    minutes: Sequence[int]
    budget: Budget

    def __post_init__(self) -> None:
        placement, problem = self.placement, self.placement.problem
        self.free = tuple(placement.free())
        self.firsts = [
            gap.start + (0 if gap.agreed is None else placement.minutes[gap.agreed]) for gap in placement.gaps
        ]
        spare = [gap.size for gap in placement.gaps]
        for i, g in placement.gap_of.items():
            spare[g] -= problem.keep[i]
        self.spare = tuple(spare)
        self.missing = sum(-s for s in spare if s < 0)
        self.least_missing = max(self.missing, sum(problem.keep[i] for i in self.chosen) - sum(spare))
        self.tables = self._tables()

    def _tables(self) -> list[tuple[int, list[int]]]:
        """For what is left from each turn on: its worth, and the most of it that so many minutes can hold."""
        total, row = 0, [0] * (sum(self.free) + 1)
        found = [(total, row)]
        for turn in reversed(self.turns):
            if turn.topic in self.chosen:
                size, value = self.minutes[turn.topic], self.placement.problem.worth[turn.topic]
                total += value
                row = list(map(max, row, [0] * min(size, len(row)) + [v + value for v in row]))
            found.append((total, row))
        return found[::-1]

    def best(self) -> tuple[dict[int, int] | None, bool]:
        """The gaps, and whether they are proven best; None without a way to place the topics."""
        found, cut_short = self._pass(None, BEAM)
        if cut_short:
            best, cut_short = self._pass(found, None)
            found = best or found
        if found is None:
            return None, not cut_short
        if cut_short:
            missing, cost = self._ahead(0, self.free, (self.missing, 0, 0, ()))
            short, had = (missing, found[0]) if found[0] > missing else (cost, found[1])
            self.budget.unproven += Fraction(max(had - short, 1), max(had, 1))
        return {turn.topic: g for turn, g in zip(self.turns, found[3], strict=True)}, not cut_short

    def _pass(self, known: Label | None, width: int | None) -> tuple[Label | None, bool]:
        """The best label of a pass over all turns, and whether ways were left out of it unseen."""
        cut_short = False
        layer: dict[State, Label] = {(self.free, self.spare, ()): (self.missing, 0, 0, ())}
        for k in range(len(self.turns)):
            if width is None and not self.budget.spend(len(layer) * len(self.free) // 2):
                return None, True
            layer = self._grown(k, layer, known)
            if width is not None and len(layer) > width:
                cut_short = True
                ranked = sorted(layer.items(), key=lambda entry: self._ahead(k + 1, entry[0][0], entry[1]))
                layer = dict(ranked[:width])
        return min(layer.values(), default=None), cut_short

    def _ahead(self, k: int, free: Sequence[int], label: Label) -> tuple[int, int]:
        """The least missing and cost that a way can end with."""
        return max(label[0], self.least_missing), label[1] + self._bound(k, free)

    def _bound(self, k: int, free: Sequence[int]) -> int:
        """The least worth times first minute of what is left: the most worth in the earliest gaps."""
        total, held = self.tables[k]
        cost, room = self.firsts[0] * total, 0
        for here, following, minutes in zip(self.firsts, self.firsts[1:], free, strict=False):
            room += minutes
            cost += (following - here) * (total - held[room])
        return cost

    def _grown(self, k: int, layer: Mapping[State, Label], known: Label | None) -> dict[State, Label]:
        """The ways to place one more topic, the best for each state."""
        turn, problem, grown = self.turns[k], self.placement.problem, dict[State, Label]()
        i, size, costed = turn.topic, self.minutes[turn.topic], turn.topic in self.chosen
        keep, worth = (problem.keep[i], problem.worth[i]) if costed else (0, 0)
        digit = len(self.free) ** (len(problem.items) - 1 - i) if costed else 0
        for (free, spare, _), (missing, cost, digits, gaps) in layer.items():
            for g in turn.gaps(gaps):
                if free[g] < size:
                    continue
                left, placed = spare[g] - keep, (*gaps, g)
                lacks = 0 if left >= 0 else min(keep, -left)
                label = (missing + lacks, cost + worth * self.firsts[g], digits + g * digit, placed)
                room = (*free[:g], free[g] - size, *free[g + 1 :])
                if known is not None and self._ahead(k + 1, room, label) > known[:2]:
                    continue
                waited_for = tuple([placed[p] for p in turn.waited_for])
                state = (room, (*spare[:g], left, *spare[g + 1 :]), waited_for)
                old = grown.get(state)
                if old is None or label < old:
                    grown[state] = label
        return grown


def place(
    placement: Placement, chosen: Sequence[int], later: Sequence[int], minutes: Sequence[int], budget: Budget
) -> dict[int, int]:
    """The gaps of a chosen set, keeping all pairs of the order if everything that is in can, else none.

    The set has a place with `later` beside it. If the budget ends first, any place that is found.
    """
    if not chosen or len(placement.gaps) == 1:
        return dict.fromkeys(chosen, 0)
    topics, worth = (*chosen, *later), placement.problem.worth
    density = [v / d for v, d in zip(worth, minutes, strict=True)]
    for by_order in (True, False) if placement.problem.pairs else (False,):
        turns = placement.turns(topics, by_order, density)
        if turns is None:
            continue
        found, proven = Placing(placement, frozenset(chosen), turns, minutes, budget).best()
        if found is None and not proven:
            found = can_place(placement, topics, minutes, Budget(MOST_STEPS), by_order)
            budget.unproven += 1
        if found is not None:
            return {i: found[i] for i in chosen}
    raise AssertionError("a chosen set has a place")


def lengthen(placement: Placement, topics: Iterable[int], target: Sequence[int]) -> None:
    """Lengthen topics together towards their targets, as far as their gaps have room.

    One minute at a time goes to the topic with the smallest share of its target, then of the higher worth,
    then by the static order. Floats tell all shares of whole minutes up to a day apart.
    """
    problem, minutes = placement.problem, placement.minutes
    free = placement.free()
    heap = [(minutes[i] / target[i], -problem.worth[i], i) for i in topics if minutes[i] < target[i]]
    heapify(heap)
    while heap:
        _, worth, i = heappop(heap)
        g = placement.gap_of[i]
        if free[g] <= 0:
            continue
        free[g] -= 1
        minutes[i] += 1
        if minutes[i] < target[i]:
            heappush(heap, (minutes[i] / target[i], worth, i))
