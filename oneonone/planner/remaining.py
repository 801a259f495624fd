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


FAR = 1 << 60
"""Later than any minute."""

Facts = tuple[int, int, int, int | None, int | None, int]
"""Of a topic: least minutes, fewest and most at which nothing is lost, what one less and one more then loses,
and its latest start."""


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
        over, latest, earliest = times.over, times.latest, times.earliest
        self.due = [
            (1 << i, self.least[i], over[i], latest[i])
            for i in sorted(members, key=lambda i: (over[i], i))
            if min(over[i], latest[i] + self.least[i]) < times.span
        ]
        self.held = [
            (1 << i, self.least[i], earliest[i])
            for i in sorted(members, key=lambda i: (-earliest[i], i))
            if earliest[i]
        ]
        self.alike = self._alike()
        self.facts = {i: self._facts(i) for i in members}
        self.ranked = any(self.problem.hand[i] is not None for i in members)

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

    def _facts(self, i: int) -> Facts:
        lengths = self.lengths[i]
        at_no_loss = [k for k, (_, lost) in enumerate(lengths) if not lost]
        first, last = at_no_loss[0], at_no_loss[-1]
        less = lengths[first - 1][1] if first else None
        more = lengths[last + 1][1] if last + 1 < len(lengths) else None
        return lengths[0][0], lengths[first][0], lengths[last][0], less, more, self.times.latest[i]

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
        least = low = high = 0
        trim, stretch = None, self.price
        soonest = second = FAR
        for i in waiting:
            minutes, fewest, most, less, more, latest = self.facts[i]
            least += minutes
            low += fewest
            high += most
            if less is not None and (trim is None or less < trim):
                trim = less
            if more is not None and more < stretch:
                stretch = more
            if latest < second:
                soonest, second = (latest, soonest) if latest < soonest else (soonest, latest)
        latest = min(self._latest(left), self.times.span - least)
        first, reach, idle = self._gaps(waiting) if not self.partial else (0, 0, 0)
        if idle is None:
            latest = -1
        return Rest(
            latest,
            tuple(self._next(left, waiting, least, soonest, second)),
            low,
            high,
            trim,
            max(0, stretch),
            first,
            reach,
            not left & ~self.times.free,
            idle or 0,
            tuple([self._balance(floor, waiting) for floor in self.floors]),
        )

    def _latest(self, left: int) -> int:
        """The last minute from which topics due by some minute fit before it; -1 if some cannot at all.

        Those that cannot start before some minute have to fit behind it.
        """
        behind = latest = self.times.span
        for bit, minutes, earliest in self.held:
            if left & bit:
                behind -= minutes
                if behind < earliest:
                    return -1
        taken = 0
        for bit, minutes, over, start in self.due:
            if left & bit:
                taken += minutes
                if over - taken < latest:
                    latest = over - taken
                if start < latest:
                    latest = start
        return latest

    def _next(
        self, left: int, waiting: Sequence[int], least: int, soonest: int, second: int
    ) -> list[tuple[int, int, int, int]]:
        """What can come first; others have to start by `soonest`, or by `second` if it is that one itself."""
        before, over, latest, span = self.problem.before, self.times.over, self.times.latest, self.times.span
        alike, turn, hand = self.alike, self._turn, self.problem.hand
        first_by_hand = 0
        if self.ranked:
            first_by_hand = min((rank for i in waiting if (rank := hand[i]) is not None), default=0)
        found = []
        for i in waiting:
            if before[i] & left or alike.get(i, 0) & left:
                continue
            rank = hand[i]
            if rank is not None and rank > first_by_hand:
                continue
            others = least - self.least[i]
            others_by = second if latest[i] == soonest else soonest
            found.append((i, others, min(over[i], span - others, others_by), turn[i]))
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
