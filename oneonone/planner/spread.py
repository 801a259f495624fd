"""Lengths worth most when topics may be interrupted: a bound for all timetables, and mostly that of the best.

If a topic may be taken up again and again within its times, lengths can be kept just when no span of minutes
is overfilled by topics that have to stand in it (Horn, Naval Research Logistics Quarterly 21, 1974). Such
lengths form a polymatroid, so giving every minute to the topic where it is worth most is exact (Edmonds,
Combinatorial Structures and Their Applications, 1970). Floors are priced; a few steps find good prices.
"""

from collections.abc import Sequence

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem
from oneonone.planner.rules import FINE
from oneonone.planner.times import Times

ROUNDS = 10
"""Prices of floors tried."""


class Spread:
    """Topics at their times; `feasible` tells whether there is room for the least of each.

    `room` are the minutes they can fill at most, and `kept` the lengths of most worth that were met and keep
    every floor.
    """

    def __init__(
        self, problem: Problem, times: Times, room: int, floors: Sequence[Floor], topics: Sequence[int]
    ) -> None:
        self.problem, self.floors, self.topics = problem, floors, topics
        self.least = {i: problem.items[i].least for i in topics}
        self.more = {i: len(problem.gain[i]) - 1 for i in topics}
        first = min((times.earliest[i] for i in topics), default=0)
        self.room = min(room, max((times.over[i] for i in topics), default=0) - first)
        self.total = self.room - sum(self.least.values())
        self.worth = sum(problem.gain[i][0] for i in topics)
        self.kept: dict[int, int] | None = None
        self.spans: list[tuple[int, int]] = []
        self.feasible = self.total >= 0 and self._spans_open(times)

    def _spans_open(self, times: Times) -> bool:
        """Note spans that could be overfilled, with what is spare in them; whether none is by the least."""
        least, more, earliest = self.least, self.more, times.earliest
        over = {i: min(times.over[i], times.latest[i] + least[i] + more[i]) for i in self.topics}
        by_over = sorted(self.topics, key=lambda i: (over[i], i))
        for first in {earliest[i] for i in self.topics}:
            within = [i for i in by_over if earliest[i] >= first]
            inside = taken = wanted = 0
            for i, following in zip(within, [*within[1:], None], strict=True):
                inside |= 1 << i
                taken += least[i]
                wanted += more[i]
                if following is None or over[following] > over[i]:
                    spare = over[i] - first - taken
                    if spare < 0:
                        return False
                    if wanted > spare:
                        self.spans.append((inside, spare))
        return True

    def bound(self, prices: Sequence[int], known: int) -> int:
        """The most that a timetable can be worth; no closer than `known`."""
        if not self.floors:
            value, self.kept = self._shared(self.problem.slope)
            return self.worth + value
        prices, low, high = list(prices), [0] * len(prices), [-1] * len(prices)
        bound, most = 1 << 80, -1
        for _ in range(ROUNDS):
            value, minutes = self._priced(prices)
            bound = min(bound, value)
            balances = [floor.balance(minutes) for floor in self.floors]
            if min(balances) >= 0:
                worth = sum(self.problem.worth(i, d) for i, d in minutes.items())
                if worth > most:
                    self.kept, most = minutes, worth
            if bound <= max(known, most) or not self._turned(prices, balances, low, high):
                break
        return bound

    def _turned(self, prices: list[int], balances: Sequence[int], low: list[int], high: list[int]) -> bool:
        """Raise prices of floors that are not kept, lower those of floors with something to spare."""
        before = list(prices)
        for k, balance in enumerate(balances):
            if balance < 0:
                low[k] = prices[k]
                prices[k] = 2 * prices[k] + self.problem.scale * FINE // 4
            elif balance and prices[k]:
                high[k] = prices[k]
            else:
                continue
            if high[k] >= 0:
                prices[k] = (low[k] + high[k]) // 2
        return prices != before

    def _priced(self, prices: Sequence[int]) -> tuple[int, dict[int, int]]:
        """A bound on the worth, when what is spare in floors earns their prices."""
        fixed = sum(price * floor.short for price, floor in zip(prices, self.floors, strict=True))
        slope = list(self.problem.slope)
        for i in self.topics:
            earned = sum(price * floor.weight(i) for price, floor in zip(prices, self.floors, strict=True))
            fixed += earned * self.least[i]
            slope[i] = slope[i] * FINE + earned
        value, minutes = self._shared(slope)
        return self.worth + (fixed + value) // FINE, minutes

    def _shared(self, slope: Sequence[int]) -> tuple[int, dict[int, int]]:
        """What the minutes beyond the least earn at most, and the lengths."""
        minutes, total, value = dict(self.least), self.total, 0
        spare = [left for _, left in self.spans]
        for i in sorted(self.topics, key=lambda i: (-slope[i], i)):
            if slope[i] <= 0 or not total:
                break
            within = [k for k, (inside, _) in enumerate(self.spans) if inside >> i & 1]
            more = min(self.more[i], total, *[spare[k] for k in within])
            if more:
                for k in within:
                    spare[k] -= more
                total -= more
                minutes[i] += more
                value += more * slope[i]
        return value, minutes
