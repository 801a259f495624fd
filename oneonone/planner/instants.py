"""Priced tables over the minutes: a lower bound on what any order costs from each minute on.

An order is a walk through the minutes. With a price for each topic, a walk in which a topic may come several
times, or never, costs at least the sum of the prices less than any order does, and the cheapest such walk is
quick to find backwards, for every minute (state-space relaxation: Christofides, Mingozzi & Toth, Networks 11,
1981; Tanaka, Fujikuma & Araki, Journal of Scheduling 12, 2009). A few steps against the topics that come too
often or never bring it close (Held, Wolfe & Crowder, Mathematical Programming 6, 1974).
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from operator import add, itemgetter, sub

from oneonone.planner.pairs import Pairs
from oneonone.planner.walks import FAR, Line


@dataclass
class Instants:
    """`bounds[t]` is the least that a walk costs from minute t on, with the sum of `prices` added."""

    table: Pairs
    earliest: Sequence[int]
    over: Sequence[int]
    span: int
    prices: list[int] = field(default_factory=list)
    bounds: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.size, self.total = len(self.table.topics), sum(self.table.minutes)
        self.direct = self._direct_costs()
        self.ends_at = itemgetter(*(d - 1 for d in self.table.minutes), 0)

    def _direct_costs(self) -> list[list[int]]:
        """`[t][a]`: worth times the end of a, started at t; far too much outside its times."""
        rows = list(zip(self.table.worth, self.table.minutes, self.earliest, self.over, strict=True))
        return [
            [v * (t + d) if first <= t and t + d <= over else FAR for v, d, first, over in rows] + [FAR]
            for t in range(self.span + 1)
        ]

    def price(self, line: Line, aim: int, rounds: int) -> None:
        """Prices and tables, from those under which `line`, at a cost of `aim`, costs the same throughout.

        Started from the cost of a topic in that order and of the wait it causes to those behind.
        """
        worth, minutes = self.table.worth, self.table.minutes
        prices, behind = [0] * self.size, sum(worth)
        for a, start in line:
            behind -= worth[a]
            prices[a] = worth[a] * (start + minutes[a]) + behind * minutes[a]
        best = (self.bounds[0], self.bounds, self.prices) if self.bounds else (-1, [], [])
        stalled, pace = 0, 128
        for _ in range(rounds):
            table = self._backward(prices)
            fixed = sum(prices)
            if table[0] + fixed > best[0]:
                best, stalled = (table[0] + fixed, [value + fixed for value in table], list(prices)), 0
            else:
                stalled += 1
                if stalled > 3:
                    stalled, pace = 0, pace // 2
            times = [0] * self.size
            for a in self._best_walk(prices, table):
                times[a] += 1
            norm = sum((1 - n) ** 2 for n in times)
            if not norm or best[0] >= aim:
                break
            step = (aim - table[0] - fixed) * pace
            prices = [price + step * (1 - n) // (64 * norm) for price, n in zip(prices, times, strict=True)]
        _, self.bounds, self.prices = best

    def _backward(self, prices: Sequence[int]) -> list[int]:
        """`table[t]`: the least priced cost from minute t on, topics used any number of times."""
        span, longest = self.span, max(self.table.minutes)
        table = [FAR] * (span + longest + 1)
        charged = [*prices, 0]
        opens = {first for first in self.earliest if first}
        waiting = FAR
        for t in range(span, -1, -1):
            ends = self.ends_at(table[t + 1 : t + 1 + longest])
            best = min(map(add, map(sub, self.direct[t], charged), ends))
            if t >= self.total and best > 0:
                best = 0
            if t in opens:
                waiting = min(waiting, *self._opening(t, table, prices))
            table[t] = min(best, waiting)
        return table[: span + 1]

    def _opening(self, t: int, table: Sequence[int], prices: Sequence[int]) -> list[int]:
        """The priced costs of the topics that cannot start before t, started there."""
        return [
            self.direct[t][a] - prices[a] + table[t + self.table.minutes[a]]
            for a in range(self.size)
            if self.earliest[a] == t
        ]

    def _best_walk(self, prices: Sequence[int], table: Sequence[int]) -> list[int]:
        t, found, charged, longest = 0, list[int](), [*prices, 0], max(self.table.minutes)
        table = [*table, *[FAR] * longest]
        while t < self.total or table[t]:
            ends = self.ends_at(table[t + 1 : t + 1 + longest])
            costs = list(map(add, map(sub, self.direct[t], charged), ends))
            if table[t] in costs:
                a = costs.index(table[t])
            else:
                later = [b for b in range(self.size) if self.earliest[b] > t]
                waited = (b for b in later if self._opened(b, prices, table) == table[t])
                a = next(waited, -1)
                if a < 0:
                    break
                t = self.earliest[a]
            found.append(a)
            t += self.table.minutes[a]
        return found

    def _opened(self, a: int, prices: Sequence[int], table: Sequence[int]) -> int:
        """The priced cost of a topic at its first minute, and of what follows."""
        first = self.earliest[a]
        return self.direct[first][a] - prices[a] + table[first + self.table.minutes[a]]
