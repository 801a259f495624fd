"""What is known of the topics still to be placed, whatever came before: asked often, so kept by set."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times


@dataclass(frozen=True, slots=True)
class Rest:
    """A set of topics still to be placed.

    They cannot start after `latest`. `next` are those that can come first: (topic, least minutes of the
    others, minute by which it is over, topics it need not follow directly if named later). `low` and `high`
    are the minutes at which nothing is lost, `trim` and `stretch` what a minute less or more loses at least.
    Up to the agreed start `first`, sums of minutes in `reach` can be filled; `idle` minutes stay empty behind
    it. The rest is `open` if no time binds any of them. `balances` are the least and most that they add to
    each floor.
    """

    latest: int
    next: tuple[tuple[int, int, int, int], ...]
    low: int
    high: int
    trim: int | None
    stretch: int
    first: int
    reach: int
    open: bool
    idle: int
    balances: tuple[tuple[int, int], ...]


@dataclass
class Remaining:
    """The rests of one set of topics; `lengths` are every topic's minutes with what they lose."""

    problem: Problem
    times: Times
    floors: Sequence[Floor]
    members: Sequence[int]
    lengths: Mapping[int, Sequence[tuple[int, int]]]
    price: int
    partial: bool

    def __post_init__(self) -> None:
        times, members = self.times, self.members
        self.known: dict[int, Rest] = {}
        self.least = {i: self.lengths[i][0][0] for i in members}
        self.most = {i: self.lengths[i][-1][0] for i in members}
        self.by_over = sorted(members, key=lambda i: (times.over[i], i))
        self.by_earliest = sorted(members, key=lambda i: (-times.earliest[i], i))
        self.alike = self._alike()

    def of(self, left: int) -> Rest:
        """What is known of that set."""
        rest = self.known.get(left)
        if rest is None:
            rest = self.known[left] = self._rest(left)
        return rest

    def _alike(self) -> dict[int, int]:
        """For each free topic without ties, the earlier ones that could stand in for it in any placement."""
        problem, free = self.problem, self.times.free
        members = sum(1 << i for i in self.members)
        tied = 0
        for i in self.members:
            tied |= problem.before[i]
            if problem.before[i] & members or problem.hand[i] is not None:
                tied |= 1 << i
        kinds: dict[tuple[object, ...], int] = {}
        found = {}
        for i in self.members:
            if tied >> i & 1 or not free >> i & 1:
                continue
            kind = (tuple(self.lengths[i]), *(floor.weight(i) for floor in self.floors))
            found[i] = kinds.get(kind, 0)
            kinds[kind] = found[i] | 1 << i
        return found

    @cached_property
    def _low_high(self) -> dict[int, tuple[int, int]]:
        """The least and most minutes at which a topic loses nothing."""
        found = {}
        for i in self.members:
            at_no_loss = [d for d, lost in self.lengths[i] if not lost]
            found[i] = at_no_loss[0], at_no_loss[-1]
        return found

    def _step(self, i: int, way: int) -> int:
        """What a minute less, or more, than the lengths at which nothing is lost loses."""
        at = self._low_high[i][0 if way < 0 else 1]
        return self.lengths[i][at + way - self.least[i]][1]

    @cached_property
    def _turn(self) -> dict[int, int]:
        """For each topic, the free ones that would change places with it if named later."""
        problem, free = self.problem, self.times.free
        return {
            i: sum(1 << j for j in self.members if free >> j & 1 and not problem.goes_first(j, i))
            if free >> i & 1
            else 0
            for i in self.members
        }

    def _rest(self, left: int) -> Rest:
        waiting = bits(left)
        least = sum(self.least[i] for i in waiting)
        latest = min(self._latest(left), self.times.span - least)
        low = sum(self._low_high[i][0] for i in waiting)
        high = sum(self._low_high[i][1] for i in waiting)
        trims = [self._step(i, -1) for i in waiting if self._low_high[i][0] > self.least[i]]
        stretches = [self._step(i, 1) for i in waiting if self._low_high[i][1] < self.most[i]]
        first, reach, idle = self._gaps(waiting) if not self.partial else (0, 0, 0)
        if idle is None:
            latest = -1
        return Rest(
            latest=latest,
            next=tuple(self._next(left, waiting, least)),
            low=low,
            high=high,
            trim=min(trims, default=None),
            stretch=max(0, min([self.price, *stretches])),
            first=first,
            reach=reach,
            open=not left & ~self.times.free,
            idle=idle or 0,
            balances=tuple(self._balance(floor, waiting) for floor in self.floors),
        )

    def _latest(self, left: int) -> int:
        """The last minute from which topics due by some minute fit before it; -1 if some cannot at all.

        Those that cannot start before some minute have to fit behind it.
        """
        times = self.times
        behind = latest = times.span
        for i in self.by_earliest:
            if left >> i & 1:
                behind -= self.least[i]
                if behind < times.earliest[i]:
                    return -1
        taken = 0
        for i in self.by_over:
            if left >> i & 1:
                taken += self.least[i]
                latest = min(latest, times.over[i] - taken, times.latest[i])
        return latest

    def _next(self, left: int, waiting: Sequence[int], least: int) -> list[tuple[int, int, int, int]]:
        problem, times = self.problem, self.times
        ranks = [rank for i in waiting if (rank := problem.hand[i]) is not None]
        first_by_hand = min(ranks, default=0)
        closing = sorted(times.latest[i] for i in waiting)
        found = []
        for i in waiting:
            rank = problem.hand[i]
            if problem.before[i] & left or (rank is not None and rank > first_by_hand):
                continue
            if self.alike.get(i, 0) & left:
                continue
            others = least - self.least[i]
            shut = min(times.over[i], times.span - others)
            if len(closing) > 1:
                shut = min(shut, closing[1] if closing[0] == times.latest[i] else closing[0])
            found.append((i, others, shut, self._turn[i]))
        return found

    def _gaps(self, waiting: Sequence[int]) -> tuple[int, int, int | None]:
        """The first agreed start, sums of minutes that can be filled up to it, and idle minutes behind it.

        Between agreed starts only sums of lengths can be filled. None if agreed starts collide.
        """
        times, span = self.times, self.times.span
        fixed = sorted((times.latest[i], i) for i in waiting if times.latest[i] == times.earliest[i])
        if not fixed:
            return 0, 0, 0
        others = [i for i in waiting if times.latest[i] != times.earliest[i]]
        first = fixed[0][0]
        fillers = [i for i in others if times.earliest[i] < first]
        reach = self._reach(1, fillers, first)
        idle = 0
        for (since, pinned), (start, _) in pairwise(fixed):
            gap = start - since
            filled = self._reach(
                self._sums(1, (self.least[pinned], self.most[pinned]), span),
                self._between(others, since, start),
                gap,
            )
            filled &= (2 << gap) - 1
            if not filled:
                return first, reach, None
            idle += gap - filled.bit_length() + 1
        return first, reach, idle

    def _between(self, others: Sequence[int], since: int, start: int) -> list[int]:
        return [i for i in others if self.times.earliest[i] < start and self.times.over[i] > since]

    def _reach(self, reach: int, fillers: Sequence[int], gap: int) -> int:
        room = (2 << gap) - 1
        for i in fillers:
            reach = (reach | self._sums(reach, (self.least[i], self.most[i]), gap)) & room
        return reach

    @staticmethod
    def _sums(reach: int, lengths: tuple[int, int], gap: int) -> int:
        found = 0
        for d in range(lengths[0], min(lengths[1], gap) + 1):
            found |= reach << d
        return found

    def _balance(self, floor: Floor, waiting: Sequence[int]) -> tuple[int, int]:
        least = most = 0
        for i in waiting:
            weight = floor.weight(i)
            least += weight * (self.least[i] if weight > 0 else self.most[i])
            most += weight * (self.most[i] if weight > 0 else self.least[i])
        return least, most
