"""The gaps between agreed starts: which topics can be placed in them, where best, and how they lengthen.

Gaps are settled as topics come in: what has a gap keeps it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import heapify, heappop, heappush

from oneonone.planner.knapsack import Budget
from oneonone.planner.problem import Problem


LAST_STEPS = 100
"""Steps for one question once the budget is spent."""

MOST_STEPS = 200_000
"""Steps for a placing that is known to exist."""


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

    def windows(self, topics: Sequence[int], by_order: bool) -> "Windows | None":
        """The gaps that each of these topics can be placed in, None if one has none.

        By `after`, and with `by_order` also by the pairs of the order, over all that is in.
        """
        problem, gap_of = self.problem, self.gap_of
        new = set(topics)
        last = len(self.gaps) - 1
        low, high = dict.fromkeys(topics, 0), dict.fromkeys(topics, last)
        ahead: dict[int, set[int]] = {i: set() for i in topics}
        pairs = [(j, i) for i in (*topics, *gap_of) for j in problem.needs[i]]
        if by_order:
            pairs.extend(problem.pairs)
        for one, other in pairs:
            if one in new and other in new:
                ahead[other].add(one)
            elif other in new and one in gap_of:
                low[other] = max(low[other], gap_of[one])
            elif one in new and other in gap_of:
                high[one] = min(high[one], gap_of[other] - self.heads(other))
            elif one in gap_of and other in gap_of and not self._stands(one, other):
                return None
        return _propagated(topics, low, high, ahead)

    def _stands(self, one: int, other: int) -> bool:
        """Whether one can come before the other where they are."""
        return self.gap_of[one] < self.gap_of[other] or (
            self.gap_of[one] == self.gap_of[other] and not self.heads(other)
        )


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


@dataclass(frozen=True, slots=True)
class Windows:
    """First and last gap of each topic, and those among them that have to stand in no later one."""

    low: Mapping[int, int]
    high: Mapping[int, int]
    ahead: Mapping[int, set[int]]


def _propagated(
    topics: Sequence[int], low: dict[int, int], high: dict[int, int], ahead: dict[int, set[int]]
) -> Windows | None:
    """The windows with what follows from each other's."""
    if any(ahead.values()):
        line = _in_line(topics, ahead, {})
        for i in line:
            low[i] = max([low[i], *(low[j] for j in ahead[i])])
        for i in reversed(line):
            for j in ahead[i]:
                high[j] = min(high[j], high[i])
    if any(low[i] > high[i] for i in topics):
        return None
    return Windows(low, high, ahead)


def _in_line(topics: Sequence[int], ahead: Mapping[int, set[int]], weight: Mapping[int, float]) -> list[int]:
    """Each topic behind those ahead of it; else the greater weight first."""
    left = sorted(topics, key=lambda i: (-weight.get(i, 0), i))
    if not any(ahead.values()):
        return left
    done: dict[int, None] = {}
    while left:
        step = next(i for i in left if ahead[i] <= done.keys())
        left.remove(step)
        done[step] = None
    return list(done)


def can_place(
    placement: Placement,
    topics: Sequence[int],
    minutes: Sequence[int],
    budget: Budget,
    by_order: bool = False,
) -> dict[int, int] | None:
    """A gap for each of these topics at these minutes, longest first; None if there is none.

    `budget.gave_up` grows if none was found before the steps ran out.
    """
    windows = placement.windows(topics, by_order)
    free = placement.free()
    if windows is None or min(free) < 0:
        return None
    line = _in_line(topics, windows.ahead, {i: float(minutes[i]) for i in topics})
    waited_for = [
        [i for i in line[:k] if any(i in windows.ahead[j] for j in line[k:])] for k in range(len(line))
    ]
    failed = set[tuple[object, ...]]()
    gap_of: dict[int, int] = {}
    last = min(budget.left, 0) - LAST_STEPS

    def fill(k: int) -> bool:
        if k == len(line):
            return True
        state = (k, tuple(free), tuple([gap_of[i] for i in waited_for[k]]))
        if state in failed or budget.left < last:
            return False
        budget.spend(1)
        i = line[k]
        for g in range(max([windows.low[i], *(gap_of[j] for j in windows.ahead[i])]), windows.high[i] + 1):
            if free[g] >= minutes[i]:
                free[g] -= minutes[i]
                gap_of[i] = g
                if fill(k + 1):
                    return True
                free[g] += minutes[i]
        failed.add(state)
        return False

    if fill(0):
        return gap_of
    budget.gave_up += budget.left < last
    return None


State = tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]
"""Minutes free in each gap; minutes free there if all had their keep; gaps of topics that others wait for."""

Label = tuple[int, int, int, tuple[int, ...]]
"""Minutes missing towards keep, worth times first minutes, gaps in the static order in one number; gaps so far."""

Facts = tuple[int, int, int, int, int, int, list[int], list[int]]
"""Of a topic: minutes, keep, worth and unit of its gap's number (0 if it is not costed), first and last gap,
places in the line of topics it may not stand before, and of those that later ones may not stand before."""

BEAM = 40
"""States that go on from each topic in the first pass."""


@dataclass
class Placing:
    """The best gaps for a chosen set: topic by topic, every way to fill the gaps once, with bounds.

    `chosen` are placed for good; `later` only have to fit beside them at these minutes. Fewest minutes are
    missing towards keep in the gaps, then worth times the gap's first free minute is least, then topics stand
    in earlier gaps by the static order. A way is dropped if it cannot end below the best known.
    """

    placement: Placement
    chosen: Sequence[int]
    later: Sequence[int]
    minutes: Sequence[int]
    windows: Windows
    budget: Budget

    def __post_init__(self) -> None:
        problem = self.placement.problem
        weight = {i: problem.worth[i] / self.minutes[i] for i in (*self.chosen, *self.later)}
        self.line = _in_line((*self.chosen, *self.later), self.windows.ahead, weight)
        self.costed = set(self.chosen)
        self.free = tuple(self.placement.free())
        self.firsts = [
            gap.start if gap.agreed is None else gap.start + self.placement.minutes[gap.agreed]
            for gap in self.placement.gaps
        ]
        self.steps = [b - a for a, b in zip(self.firsts, self.firsts[1:], strict=False)]
        spare = [gap.size for gap in self.placement.gaps]
        for i, g in self.placement.gap_of.items():
            spare[g] -= problem.keep[i]
        self.missing = sum(-s for s in spare if s < 0)
        self.spare = tuple(spare)
        total = sum(spare) - sum(problem.keep[i] for i in self.chosen)
        self.least_missing = max(self.missing, -total)
        self.facts = [self._facts(k, i) for k, i in enumerate(self.line)]
        self.tables = self._tables()

    def _facts(self, k: int, i: int) -> Facts:
        """What placing the topic at that place of the line hangs on."""
        problem, windows, line = self.placement.problem, self.windows, self.line
        digit = len(self.placement.gaps) ** (len(problem.items) - 1 - i)
        costs = (problem.keep[i], problem.worth[i], digit) if i in self.costed else (0, 0, 0)
        ahead = [line.index(j) for j in windows.ahead[i]]
        waited_for = [
            p for p, j in enumerate(line[: k + 1]) if any(j in windows.ahead[o] for o in line[k + 1 :])
        ]
        return self.minutes[i], *costs, windows.low[i], windows.high[i], ahead, waited_for

    def _tables(self) -> list[tuple[int, list[int]]]:
        """For what is left from each place on: its worth, and the most of it that so many minutes can hold."""
        worth, room = self.placement.problem.worth, sum(self.free)
        total, row = 0, [0] * (room + 1)
        found = [(total, row)]
        for i in reversed(self.line):
            if i in self.costed:
                size, value = self.minutes[i], worth[i]
                total += value
                row = list(map(max, row, [0] * min(size, room + 1) + [v + value for v in row]))
            found.append((total, row))
        return found[::-1]

    def best(self) -> tuple[dict[int, int] | None, bool]:
        """The gaps, and whether they are proven best; None without a way to place the topics."""
        first, cut_short = self._pass(None, BEAM)
        if not cut_short:
            return self._told(first), True
        full, cut_short = self._pass(first, None)
        if not cut_short:
            return self._told(full or first), True
        if first is None:
            return None, False
        missing, cost = self.least_missing, self._bound(0, self.free)
        short, found = (missing, first[0]) if first[0] > missing else (cost, first[1])
        self.budget.unproven += Fraction(max(found - short, 1), max(found, 1))
        return self._told(first), False

    def _told(self, label: Label | None) -> dict[int, int] | None:
        return None if label is None else dict(zip(self.line, label[3], strict=True))

    def _pass(self, known: Label | None, width: int | None) -> tuple[Label | None, bool]:
        """The best label of a pass over all topics, and whether ways were left out of it unseen."""
        cut_short = False
        layer: dict[State, Label] = {(self.free, self.spare, ()): (self.missing, 0, 0, ())}
        for k in range(len(self.line)):
            following: dict[State, Label] = {}
            if width is None and not self.budget.spend(len(layer) * len(self.free) // 2):
                return None, True
            for state, label in layer.items():
                self._grow(k, state, label, following, known)
            if width is not None and len(following) > width:
                cut_short = True
                ranked = sorted(following.items(), key=lambda entry: self._ahead(k + 1, *entry))
                following = dict(ranked[:width])
            layer = following
        return min(layer.values(), default=None), cut_short

    def _ahead(self, k: int, state: State, label: Label) -> tuple[int, int]:
        """The least missing and cost that this way can end with."""
        return max(label[0], self.least_missing), label[1] + self._bound(k, state[0])

    def _bound(self, k: int, free: Sequence[int]) -> int:
        """The least worth times first minute of what is left: the most worth in the earliest gaps."""
        total, held = self.tables[k]
        cost, room = self.firsts[0] * total, 0
        for g, step in enumerate(self.steps):
            room += free[g]
            cost += step * (total - held[room])
        return cost

    def _grow(
        self, k: int, state: State, label: Label, following: dict[State, Label], known: Label | None
    ) -> None:
        """The ways to place the next topic."""
        free, spare, _ = state
        missing, cost, digits, gaps = label
        size, keep, worth, digit, low, high, ahead, waited_for = self.facts[k]
        for g in range(max([low, *[gaps[p] for p in ahead]]) if ahead else low, high + 1):
            if free[g] < size:
                continue
            left = spare[g] - keep
            grown = (
                missing + (0 if left >= 0 else keep if spare[g] <= 0 else -left),
                cost + worth * self.firsts[g],
                digits + g * digit,
                (*gaps, g),
            )
            new = (
                (*free[:g], free[g] - size, *free[g + 1 :]),
                (*spare[:g], left, *spare[g + 1 :]),
                tuple([grown[3][p] for p in waited_for]) if waited_for else (),
            )
            if known is not None and self._ahead(k + 1, new, grown) > known[:2]:
                continue
            old = following.get(new)
            if old is None or grown < old:
                following[new] = grown


def place(
    placement: Placement,
    chosen: Sequence[int],
    later: Sequence[int],
    minutes: Sequence[int],
    budget: Budget,
) -> dict[int, int]:
    """The gaps of a chosen set, keeping all pairs of the order if everything that is in can, else none.

    The set must have a place, `later` beside it. If the budget ends first, any place that is found.
    """
    if not chosen or len(placement.gaps) == 1:
        return dict.fromkeys(chosen, 0)
    topics = (*chosen, *later)
    for by_order in (True, False) if placement.problem.pairs else (False,):
        windows = placement.windows(topics, by_order)
        if windows is None:
            continue
        found, proven = Placing(placement, chosen, later, minutes, windows, budget).best()
        if found is None and not proven:
            found = can_place(placement, topics, minutes, Budget(MOST_STEPS), by_order)
            budget.unproven += 1
        if found is not None:
            return {i: found[i] for i in chosen}
    raise AssertionError("a chosen set has a place")


def lengthen(placement: Placement, topics: Iterable[int], target: Sequence[int]) -> None:
    """Lengthen topics together towards their targets, as far as their gaps have room.

    One minute at a time goes to the topic with the smallest share of its target, then of the higher worth,
    then by the static order. Shares are compared as floats: those of whole minutes up to a day are told apart.
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
