"""Lengths worth most when topics may be interrupted: a bound for all timetables, and mostly that of the best.

If a topic may be taken up again and again within its times, lengths can be kept just when no span of minutes
is overfilled by topics that have to stand in it (Horn, Naval Research Logistics Quarterly 21, 1974). Such
lengths form a polymatroid, so giving every minute to the topic where it is worth most is exact (Edmonds,
Combinatorial Structures and Their Applications, 1970). Floors are priced; a few steps find good prices, and
where those leave a gap, lengths are divided until it is closed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem
from oneonone.planner.rules import FINE
from oneonone.planner.times import Times

ROUNDS, AGAIN = 10, 4
"""Prices of floors tried, at first and for each part."""

PARTS = 80
"""Parts into which lengths are divided at most."""

Minutes = dict[int, int]


@dataclass(frozen=True, slots=True)
class Part:
    """Lengths from `low` to `high` minutes beyond the least: a bound, good prices, and two answers.

    `over` breaks a floor and is worth too much, `kept` keeps all; either may be missing.
    """

    low: Mapping[int, int]
    high: Mapping[int, int]
    bound: int
    prices: Sequence[int]
    over: Minutes | None
    kept: Minutes | None


class Spread:
    """Topics at their times; `feasible` tells whether there is room for the least of each.

    `room` are the minutes they can fill at most, `kept` the lengths of most worth met that keep every floor,
    and `most` what those are worth.
    """

    def __init__(
        self, problem: Problem, times: Times, room: int, floors: Sequence[Floor], topics: Sequence[int]
    ) -> None:
        self.problem, self.floors, self.topics = problem, floors, topics
        self.least = {i: problem.items[i].least for i in topics}
        self.more = {i: len(problem.gain[i]) - 1 for i in topics}
        first = min((times.earliest[i] for i in topics), default=0)
        self.room = min(room, max((times.over[i] for i in topics), default=0) - first)
        self.worth = sum(problem.gain[i][0] for i in topics)
        self.kept: Minutes | None = None
        self.most = -1
        self.earned: dict[tuple[int, ...], tuple[int, list[int]]] = {}
        self.within: dict[int, list[int]] = {i: [0] for i in topics}
        self.spare = [self.room - sum(self.least.values())]
        self.feasible = self.spare[0] >= 0 and self._spans_open(times)

    def _spans_open(self, times: Times) -> bool:
        """Note spans that could be overfilled, with what is spare in them; whether none is by the least."""
        least, more, earliest = self.least, self.more, times.earliest
        over = {i: min(times.over[i], times.latest[i] + least[i] + more[i]) for i in self.topics}
        by_over = sorted(self.topics, key=lambda i: (over[i], i))
        for first in {earliest[i] for i in self.topics}:
            inside = [i for i in by_over if earliest[i] >= first]
            taken = wanted = 0
            for place, i in enumerate(inside):
                taken += least[i]
                wanted += more[i]
                if place + 1 == len(inside) or over[inside[place + 1]] > over[i]:
                    spare = over[i] - first - taken
                    if spare < 0:
                        return False
                    if wanted > spare:
                        for j in inside[: place + 1]:
                            self.within[j].append(len(self.spare))
                        self.spare.append(spare)
        return True

    def bound(self, prices: Sequence[int], known: int) -> int:
        """The most that a timetable can be worth; no closer than `known`."""
        if self.floors:
            self.part = self._part(dict.fromkeys(self.topics, 0), self.more, prices, known, ROUNDS)
            return self.part.bound
        value, self.kept = self._shared(self.problem.slope, None, self.more)
        self.most = self.worth + value
        return self.most

    def closer_bound(self, known: int) -> int:
        """The same in whole minutes under floors, by branch and bound; `bound` has been asked before."""
        if not self.floors or self.part.bound <= max(known, self.most):
            return max(known, self.most)
        heap = [(-self.part.bound, 0, self.part)]
        count = 0
        while heap:
            part = heappop(heap)[2]
            if part.bound <= max(known, self.most):
                break
            i, at = self._divide(part)
            if i < 0 or count >= PARTS:
                return part.bound
            for low, high in ((part.low, {**part.high, i: at}), ({**part.low, i: at + 1}, part.high)):
                count += 1
                half = self._part(low, high, part.prices, known, AGAIN)
                if half.bound > max(known, self.most):
                    heappush(heap, (-half.bound, count, half))
        return max(known, self.most)

    def _divide(self, part: Part) -> tuple[int, int]:
        """The topic in whose minutes two answers differ most, and the most of its lower half; -1 for none."""
        low, high = part.low, part.high
        wide = [i for i in self.topics if low[i] < high[i]]
        if part.over is not None and part.kept is not None:
            over, kept = part.over, part.kept
            differing = [i for i in wide if over[i] != kept[i]]
            if differing:
                i = max(differing, key=lambda i: (abs(over[i] - kept[i]), -i))
                return i, (over[i] + kept[i]) // 2 - self.least[i]
        if not wide:
            return -1, 0
        i = max(wide, key=lambda i: (high[i] - low[i], -i))
        return i, (low[i] + high[i]) // 2

    def _part(
        self, low: Mapping[int, int], high: Mapping[int, int], prices: Sequence[int], known: int, rounds: int
    ) -> Part:
        """Bound the lengths between two limits, by prices that are found step by step."""
        prices, lowest, highest = list(prices), [0] * len(prices), [-1] * len(prices)
        good, bound, over, kept = list(prices), 1 << 80, None, None
        for _ in range(rounds):
            value, minutes = self._priced(prices, low, high)
            if minutes is None:
                return Part(low, high, -1, prices, None, None)
            if value < bound:
                bound, good = value, list(prices)
            balances = [floor.balance(minutes) for floor in self.floors]
            if min(balances) < 0:
                over = minutes
            else:
                kept = minutes
                worth = sum(self.problem.worth(i, d) for i, d in minutes.items())
                if worth > self.most:
                    self.kept, self.most = minutes, worth
            if bound <= max(known, self.most) or not self._turned(prices, balances, lowest, highest):
                break
        return Part(low, high, bound, good, over, kept)

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

    def _priced(
        self, prices: Sequence[int], low: Mapping[int, int], high: Mapping[int, int]
    ) -> tuple[int, Minutes | None]:
        """A bound on the worth, when what is spare in floors earns their prices."""
        fixed, slope = self._earned(tuple(prices))
        value, minutes = self._shared(slope, low, high)
        return self.worth + (fixed + value) // FINE, minutes

    def _earned(self, prices: tuple[int, ...]) -> tuple[int, list[int]]:
        """What the least minutes earn at prices of the floors, and what each minute more is worth then."""
        if prices not in self.earned:
            fixed = sum(price * floor.short for price, floor in zip(prices, self.floors, strict=True))
            slope = [step * FINE for step in self.problem.slope]
            for i in self.topics:
                more = sum(
                    [price * floor.weight(i) for price, floor in zip(prices, self.floors, strict=True)]
                )
                fixed += more * self.least[i]
                slope[i] += more
            self.earned[prices] = fixed, slope
        return self.earned[prices]

    def _shared(
        self, slope: Sequence[int], low: Mapping[int, int] | None, high: Mapping[int, int]
    ) -> tuple[int, Minutes | None]:
        """What the minutes beyond the least earn at most, and the lengths; None if `low` finds no room."""
        minutes, value, spare, within = dict(self.least), 0, self.spare.copy(), self.within
        taken = {} if low is None else {i: more for i, more in low.items() if more}
        for i, more in taken.items():
            for k in within[i]:
                spare[k] -= more
            minutes[i] += more
            value += more * slope[i]
        if min(spare) < 0:
            return -1, None
        for i in sorted(self.topics, key=lambda i: (-slope[i], i)):
            if slope[i] <= 0 or not spare[0]:
                break
            more = min(high[i] - taken.get(i, 0), *[spare[k] for k in within[i]])
            if more:
                for k in within[i]:
                    spare[k] -= more
                minutes[i] += more
                value += more * slope[i]
        return value, minutes
