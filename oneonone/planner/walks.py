"""Orders built forwards through the minutes, one for each set of topics used, within reach of the best known.

Every set that can be next is bounded twice: by the priced tables for its minute (see `instants`), and by the
cheapest order of what is left when no time binds it, which grows evenly with the minute it starts from
(Smith 1956; Horn 1972). Both are kept by set. Two neighbours that no time binds and no rule ties stand in the
cheaper way round.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from oneonone.planner.pairs import Pairs
from oneonone.planner.problem import bits
from oneonone.planner.strings import DENSE, Strings

FAR = 1 << 60
"""More than any order costs."""

Line = tuple[tuple[int, int], ...]
"""Positions with their starts, in order of time."""

Walk = tuple[int, Line, int, int]
"""A way up to some minute: what it costs, positions with starts, the last of them if no time binds it, and
their prices."""

Step = tuple[int, int, int, int, int, int, int, int]
"""A topic that can be next: position, bit, minutes, worth, earliest, over, and those that come before it, and
those that had better come before it."""


Rest = tuple[int, int, int]
"""Of the topics a walk has not used: when they have to start at the latest, what they cost for each minute
before they start, and what they cost at least from then on."""


@dataclass
class Walks:
    """The orders of some positions between `earliest` and `over`; `free` ones are bound to no time."""

    table: Pairs
    earliest: Sequence[int]
    over: Sequence[int]
    free: int
    mu: int
    issued_before: Sequence[int]
    span: int
    rests: dict[int, Rest] = field(default_factory=dict)
    starts: int = 0
    ends: int = 0
    guarded: bool = False

    def __post_init__(self) -> None:
        table, size = self.table, len(self.table.topics)
        self.everything = table.everything
        ahead = [sum(1 << b for b in range(size) if table.behind[b] >> a & 1) for a in range(size)]
        self.strings = Strings(table, table.everything)
        by_over = sorted(range(size), key=lambda a: (self.over[a], a))
        self.due = [(1 << a, table.minutes[a], self.over[a]) for a in by_over if self.over[a] < self.span]
        denser = sorted(range(size), key=lambda a: (-table.worth[a] * DENSE // table.minutes[a], a))
        self.denser = [(1 << a, table.minutes[a], table.worth[a]) for a in denser]
        self.tied = any(table.behind)
        self.twisted = [self._twisted(a) if self.free >> a & 1 else 0 for a in range(size)]
        rows = zip(table.minutes, table.worth, self.earliest, self.over, ahead, strict=True)
        self.steps: list[Step] = [(a, 1 << a, *row, self._rather(a, ahead)) for a, row in enumerate(rows)]
        self.prices: Sequence[int] = [0] * size

    def priced(self, prices: Sequence[int]) -> None:
        """Other prices from now on."""
        self.prices = prices

    def _twisted(self, last: int) -> int:
        """The positions that would better change places with `last` than follow it."""
        cost, behind = self.table.cost, self.table.behind
        return sum(
            1 << a
            for a in bits(self.free & ~behind[last])
            if a != last and (cost[last][a], last) > (cost[a][last], a)
        )

    def _rather(self, a: int, ahead: Sequence[int]) -> int:
        """Positions that come before `a`, because changing places with it never costs less.

        No time binds them, nothing is tied to them, they take as long, and are worth more.
        """
        minutes, worth, behind = self.table.minutes, self.table.worth, self.table.behind
        if not self.free >> a & 1 or ahead[a] or behind[a] or self.mu:
            return 0
        return sum(
            1 << b
            for b in bits(self.free)
            if minutes[b] == minutes[a] and not ahead[b] and not behind[b] and (worth[b], -b) > (worth[a], -a)
        )

    def _guard(self, starts: int, ends: int) -> None:
        """Whether some may not stand first or last: then changing places is not always allowed."""
        self.starts, self.ends = starts, ends
        self.guarded = starts & ends != self.everything

    def _rest(self, used: int) -> Rest:
        """What is known once some are used."""
        left = self.everything & ~used
        latest, taken = FAR, 0
        for bit, minutes, over in self.due:
            if left & bit:
                taken += minutes
                if over - taken < latest:
                    latest = over - taken
        clock = worth = still = alone = 0
        for bit, minutes, value in self.denser:
            if left & bit:
                clock += minutes
                worth += value
                still += clock * value
                alone += minutes * value
        if self.tied:
            still = alone + self.strings.least(left)
        found = self.rests[used] = min(latest, self.span - clock), worth, still
        return found

    @property
    def least(self) -> int:
        """What all topics cost at least, whatever their times."""
        return self._rest(0)[2]

    def cheapest(
        self, bounds: Sequence[int], ceiling: int, starts: int, ends: int, beam: int, cap: int = 0
    ) -> tuple[Line | None, int]:
        """The cheapest order below `ceiling`, and the least bound among those given up.

        It starts with one of `starts` and ends with one of `ends`. Only the `beam` most promising walks are
        kept at each minute once `cap` walks have been extended.
        """
        self._guard(starts, ends)
        self._rest(0)
        buckets: list[dict[int, Walk]] = [{} for _ in range(self.span + 1)]
        buckets[0][0] = (0, (), -1, 0)
        everything = self.everything
        spent: dict[int, int] = {}
        best: Line | None = None
        dropped, walks = FAR, 0
        for t, bucket in enumerate(buckets):
            walks += len(bucket)
            width = beam if walks > cap else len(bucket)
            if len(bucket) > width:
                ranked = sorted(
                    (self._reachable(used, walk, t, bounds), used) for used, walk in bucket.items()
                )
                dropped = min(dropped, ranked[width][0])
                bucket = {used: bucket[used] for _, used in ranked[:width]}
            for used, walk in bucket.items():
                cost = walk[0]
                if spent.get(used, FAR) <= cost:
                    continue
                spent[used] = cost
                if used == everything:
                    if cost < ceiling:
                        best, ceiling = walk[1], cost
                    continue
                self._extend(buckets, bounds, t, used, walk, ceiling)
        return best, dropped

    def _reachable(self, used: int, walk: Walk, t: int, bounds: Sequence[int]) -> int:
        """What an order costs at least that continues a walk."""
        _, worth, still = self.rests[used]
        return walk[0] + max(bounds[t] - walk[3], t * worth + still)

    def _allowed(self, used: int, last: int) -> int:
        """The positions that may come next, those left out with which `last` would better change places."""
        twisted = self.twisted[last] if last >= 0 else 0
        if not self.guarded:
            return ~twisted
        place = used.bit_count()
        allowed = self.everything if place else self.starts
        if place == 1:
            twisted &= self.starts
        if place == len(self.table.topics) - 1:
            allowed &= self.ends
            if last >= 0 and not self.ends >> last & 1:
                twisted = 0
        return allowed & ~twisted

    def _extend(
        self,
        buckets: list[dict[int, Walk]],
        bounds: Sequence[int],
        t: int,
        used: int,
        walk: Walk,
        ceiling: int,
    ) -> None:
        """Add each topic that can come next and still lead below the ceiling."""
        cost, line, last, paid = walk
        rests, prices, mu, guarded = self.rests, self.prices, self.mu, self.guarded
        left = self.everything & ~used
        open_ = left & self._allowed(used, last)
        reach = ceiling - cost + paid
        for a, bit, minutes, worth, earliest, over, ahead, rather in self.steps:
            if not open_ & bit or ahead & left or (rather & left and not guarded):
                continue
            start = max(earliest, t)
            end = start + minutes
            if end > over:
                continue
            spent = worth * end
            if mu:
                spent += mu * (left & self.issued_before[a]).bit_count()
            if spent - prices[a] + bounds[end] >= reach:
                continue
            now, more = used | bit, cost + spent
            latest, later, still = rests.get(now) or self._rest(now)
            if end > latest or more + end * later + still >= ceiling:
                continue
            known = buckets[end].get(now)
            if known is None or more < known[0]:
                movable = a if self.free & bit and start == t else -1
                buckets[end][now] = (more, (*line, (a, start)), movable, paid + prices[a])
