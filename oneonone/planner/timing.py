"""The order of chosen topics when some are bound to times: least worth times the minute each is over.

As in `timetable`, walks through the minutes priced per topic give a bound for every minute, and walks with
the set of topics used are built forwards within its reach. Two neighbours that no time binds and no rule ties
stand in the cheaper way round (Smith 1956), which leaves few walks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from oneonone.planner.order import ends_allowed
from oneonone.planner.pairs import Pairs, pairs
from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times

ROUNDS = 60
"""Steps of the prices at most."""

CAP = 12_000
"""Walks extended before the search keeps only the most promising; the gap is then stated."""

NARROW = 60
"""Walks kept at each minute once the search has been cut short."""

FAR = 1 << 60
"""More than any order costs."""


@dataclass(frozen=True, slots=True)
class Timed:
    """Topics with starts in order of time, the cost of that order, and a lower bound on it."""

    line: tuple[int, ...]
    starts: tuple[int, ...]
    cost: int
    bound: int


class Walk(NamedTuple):
    """A way up to some minute: its cost, topics by position with starts, last if it could move."""

    cost: int
    line: tuple[tuple[int, int], ...]
    movable: int


def timing(problem: Problem, when: Times, used: Sequence[tuple[int, int, int]]) -> Timed:
    """The cheapest order of topics at their minutes, fewest sensitive ones first or last.

    `used` are (topic, start from the opening, minutes) of one order that keeps every rule.
    """
    minutes = {i: d for i, _, d in used}
    table = pairs(problem, minutes)
    position = {i: a for a, i in enumerate(table.topics)}
    known = tuple((position[i], start) for i, start, _ in used)
    search = _Search(problem, when, table, minutes)
    answer = search.best(known)
    opening = problem.frame.opening
    first = opening * sum(table.worth)
    return Timed(
        tuple(table.topics[a] for a, _ in answer.line),
        tuple(opening + start for _, start in answer.line),
        answer.cost + first,
        min(answer.bound, answer.cost) + first,
    )


@dataclass(frozen=True, slots=True)
class _Answer:
    line: tuple[tuple[int, int], ...]
    cost: int
    bound: int


@dataclass
class _Search:
    problem: Problem
    when: Times
    table: Pairs
    minutes: Mapping[int, int]
    walks: int = 0
    prices: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        topics, when, table = self.table.topics, self.when, self.table
        size = len(topics)
        self.size = size
        self.ahead = [sum(1 << b for b in range(size) if table.behind[b] >> a & 1) for a in range(size)]
        self.free = sum(1 << a for a, i in enumerate(topics) if when.free >> i & 1)
        self.pinned = [self.problem.items[i].start is not None for i in topics]
        self.earliest = [when.earliest[i] for i in topics]
        self.over = [
            self.earliest[a] + table.minutes[a] if self.pinned[a] else when.over[i]
            for a, i in enumerate(topics)
        ]
        self._draw_closer()
        self.total = sum(table.minutes)
        self.span = when.span

    def _draw_closer(self) -> None:
        """Minutes are fixed now, so what comes before and behind takes all of them."""
        minutes, behind = self.table.minutes, self.table.behind
        for a in sorted(range(self.size), key=lambda a: self.ahead[a].bit_count()):
            before = bits(self.ahead[a])
            if before and not self.pinned[a]:
                first = min(self.earliest[b] for b in before) + sum(minutes[b] for b in before)
                self.earliest[a] = max(self.earliest[a], first)
        for a in sorted(range(self.size), key=lambda a: behind[a].bit_count()):
            for b in bits(behind[a]):
                self.over[a] = min(self.over[a], self.over[b] - minutes[b])

    def best(self, known: tuple[tuple[int, int], ...]) -> _Answer:
        """The cheapest order, with the ends as seldom sensitive as can be."""
        sensitive = sum(1 << a for a, i in enumerate(self.table.topics) if self.problem.items[i].sensitive)
        everything = self.table.everything
        line = self._shifted(self._improved([a for a, _ in known]))
        priced = self._priced(self._cost(line))
        if not sensitive or sensitive == everything:
            return self._cheapest(priced, everything, everything, line)
        starts, ends = (sum(1 << a for a in side) for side in ends_allowed(self.table.behind, sensitive))
        open_bound = FAR
        for tries in (
            [(starts, ends)],
            [(starts, everything), (everything, ends)],
            [(everything, everything)],
        ):
            answers = [self._cheapest(priced, first, last, line) for first, last in tries]
            open_bound = min(open_bound, *(answer.bound for answer in answers))
            found = [answer for answer in answers if answer.line]
            if found:
                best = min(found, key=lambda answer: (answer.cost, answer.line))
                return _Answer(best.line, best.cost, min(best.cost, open_bound))
        raise AssertionError("an order that keeps every rule is known")

    def _cheapest(
        self, priced: tuple[list[int], int], starts: int, ends: int, line: tuple[tuple[int, int], ...]
    ) -> _Answer:
        """The cheapest order from one of `starts` to one of `ends`; an empty line if there is none."""
        table, bound = priced
        fits = starts >> line[0][0] & 1 and ends >> line[-1][0] & 1
        goal = self._cost(line) if fits else FAR
        if goal <= bound:
            return _Answer(line, goal, bound)
        reach = max(1, bound // 100)
        while True:
            ceiling = min(goal, bound + reach)
            walk, dropped = self._walked(table, ceiling, starts, ends)
            if walk is not None:
                return _Answer(walk.line, walk.cost, min(walk.cost, dropped))
            if ceiling == goal or dropped < FAR:
                return _Answer(line if fits else (), goal, min(goal, max(bound, dropped)))
            reach = reach * 4 if reach < bound * 4 else FAR

    def _cost(self, line: Sequence[tuple[int, int]]) -> int:
        minutes, worth = self.table.minutes, self.table.worth
        total = sum(worth[a] * (start + minutes[a]) for a, start in line)
        for place, (a, _) in enumerate(line):
            total += sum(self._turned(a, b) for b, _ in line[place + 1 :])
        return total

    def _turned(self, a: int, b: int) -> int:
        """What a before b costs because it stood behind b in the order issued."""
        return self.table.cost[a][b] - self.table.minutes[a] * self.table.worth[b]

    def _shifted(self, line: Sequence[int]) -> tuple[tuple[int, int], ...]:
        """The earliest starts of an order; empty if it breaks a time."""
        t, found = 0, []
        for a in line:
            start = max(t, self.earliest[a])
            t = start + self.table.minutes[a]
            if t > self.over[a]:
                return ()
            found.append((a, start))
        return tuple(found)

    def _improved(self, line: list[int]) -> list[int]:
        """The order after moving single topics as long as that saves anything."""
        best = self._cost(self._shifted(line))
        improved = True
        while improved:
            improved = False
            for a in list(line):
                rest = [b for b in line if b != a]
                for place in range(self.size):
                    trial = [*rest[:place], a, *rest[place:]]
                    if trial == line or not self.table.allowed(trial):
                        continue
                    shifted = self._shifted(trial)
                    if shifted and (cost := self._cost(shifted)) < best:
                        line, best, improved = trial, cost, True
        return line

    def _priced(self, aim: int) -> tuple[list[int], int]:
        """The backward table under the best prices found, and its bound."""
        known = self.table.worth
        prices = [worth * (self.total // 2) for worth in known]
        best: tuple[list[int], int] = ([], -1)
        stalled, pace = 0, 8
        for _ in range(ROUNDS):
            table = self._backward(prices)
            bound = table[0] + sum(prices)
            if bound > best[1]:
                stalled = 0 if bound - best[1] > aim // 2000 else stalled + 1
                best, self.prices = (table, bound), list(prices)
            else:
                stalled += 1
            if bound >= aim or not pace:
                break
            if stalled > 6:
                stalled, pace = 0, pace // 2
                prices = list(self.prices)
                continue
            times = [0] * self.size
            for a in self._best_walk(prices, table):
                times[a] += 1
            norm = sum((1 - n) ** 2 for n in times)
            if not norm:
                break
            step = max(1, (aim - bound) * pace // (8 * norm))
            prices = [price + step * (1 - n) for price, n in zip(prices, times, strict=True)]
        return best

    def _backward(self, prices: Sequence[int]) -> list[int]:
        """`table[t]`: the least priced cost from minute t on, topics used any number of times."""
        span, minutes, worth = self.span, self.table.minutes, self.table.worth
        table = [FAR] * (span + 1)
        waiting = FAR
        rows = [
            (self.earliest[a], self.over[a] - minutes[a], minutes[a], worth[a], prices[a])
            for a in range(self.size)
        ]
        for t in range(span, -1, -1):
            best = 0 if t >= self.total else FAR
            for first, last, d, v, price in rows:
                if first <= t <= last:
                    cost = v * (t + d) - price + table[t + d]
                    best = min(best, cost)
                    if first == t:
                        waiting = min(waiting, cost)
            table[t] = min(best, waiting)
        return table

    def _best_walk(self, prices: Sequence[int], table: Sequence[int]) -> list[int]:
        t, found = 0, list[int]()
        while t <= self.span and len(found) <= self.total:
            if t >= self.total and table[t] == 0:
                break
            for a in range(self.size):
                start = max(t, self.earliest[a])
                end = start + self.table.minutes[a]
                if end <= self.over[a] and self.table.worth[a] * end - prices[a] + table[end] == table[t]:
                    found.append(a)
                    t = end
                    break
            else:
                break
        return found

    def _walked(self, table: Sequence[int], ceiling: int, starts: int, ends: int) -> tuple[Walk | None, int]:
        """The cheapest walk below `ceiling`, and the least bound among walks given up for want of time."""
        buckets: list[dict[int, Walk]] = [{} for _ in range(self.span + 1)]
        buckets[0][0] = Walk(0, (), -1)
        everything, prices = self.table.everything, self.prices
        best: Walk | None = None
        dropped = FAR
        for t, bucket in enumerate(buckets):
            ranked = sorted(
                (walk.cost + sum(prices[a] for a in bits(everything & ~mask)), walk, mask)
                for mask, walk in bucket.items()
            )
            self.walks += len(ranked)
            if self.walks > CAP and len(ranked) > NARROW:
                dropped = min(dropped, ranked[NARROW][0] + table[t])
                ranked = ranked[:NARROW]
            for _, walk, mask in ranked:
                if mask == everything:
                    if walk.cost < ceiling:
                        best, ceiling = walk, walk.cost
                    continue
                self._extend(buckets, t, mask, walk, table, ceiling, starts if not mask else everything, ends)
        return best, dropped

    def _extend(
        self,
        buckets: list[dict[int, Walk]],
        t: int,
        mask: int,
        walk: Walk,
        table: Sequence[int],
        ceiling: int,
        starts: int,
        ends: int,
    ) -> None:
        """Add each topic that can come next and still lead below the ceiling."""
        minutes, worth, prices = self.table.minutes, self.table.worth, self.prices
        left = self.table.everything & ~mask
        waiting = bits(left)
        latest = min(self.over[a] - minutes[a] for a in waiting)
        if latest < t:
            return
        priced = sum(prices[a] for a in waiting)
        for a in waiting:
            if self.ahead[a] & left or not starts >> a & 1 or (left == 1 << a and not ends >> a & 1):
                continue
            start = max(t, self.earliest[a])
            end = start + minutes[a]
            if end > self.over[a] or not self._in_turn(walk.movable, a):
                continue
            cost = walk.cost + worth[a] * end
            if self.problem.frame.mu:
                cost += sum(self._turned(a, b) for b in waiting if b != a)
            if cost + priced - prices[a] + table[end] >= ceiling:
                continue
            known = buckets[end].get(mask | 1 << a)
            if known is None or cost < known.cost:
                movable = a if self.free >> a & 1 and start == t else -1
                buckets[end][mask | 1 << a] = Walk(cost, (*walk.line, (a, start)), movable)

    def _in_turn(self, last: int, a: int) -> bool:
        """Whether a may follow its neighbour, or the two would better change places."""
        if last < 0 or not self.free >> a & 1 or self.table.behind[last] >> a & 1:
            return True
        one, other = self.table.cost[last][a], self.table.cost[a][last]
        return one < other or (one == other and last < a)
