"""The order of chosen topics when some are bound to times: least worth times the minute each is over.

As in `timetable`, walks through the minutes priced per topic give a bound for every minute, and walks with
the set of topics used are built forwards within its reach. Two neighbours that no time binds and no rule ties
stand in the cheaper way round (Smith 1956), which leaves few walks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from operator import add, itemgetter, sub
from typing import NamedTuple

from oneonone.planner.order import ends_allowed
from oneonone.planner.pairs import Pairs, pairs
from oneonone.planner.problem import Problem, bits
from oneonone.planner.strings import Strings
from oneonone.planner.times import Times

ROUNDS = (12, 40)
"""Steps of the prices: before a first beam, and after it."""

CAP = 3_000
"""Walks extended before the search keeps only the most promising; the gap is then stated."""

BEAM = 24
"""Walks kept at each minute where only a good order is wanted, or once the search has been cut short."""

MOVE = 8
"""Places by which a single topic is moved at most when an order is improved."""

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
    """A way up to some minute: its cost less the prices of its topics, those with starts, last if movable."""

    priced: int
    line: tuple[tuple[int, int], ...]
    movable: int


Line = tuple[tuple[int, int], ...]
"""Positions with their starts, in order of time."""


def timing(problem: Problem, when: Times, used: Sequence[tuple[int, int, int]]) -> Timed:
    """The cheapest order of topics at their minutes, fewest sensitive ones first or last.

    `used` are (topic, start from the opening, minutes) of one order that keeps every rule.
    """
    minutes = {i: d for i, _, d in used}
    table = pairs(problem, minutes)
    position = {i: a for a, i in enumerate(table.topics)}
    answer = _Search(problem, when, table).best([position[i] for i, _, _ in used])
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
    walks: int = 0
    prices: list[int] = field(default_factory=list)
    bounds: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        topics, when, table = self.table.topics, self.when, self.table
        size = len(topics)
        self.size, self.span, self.total = size, when.span, sum(table.minutes)
        self.ahead = [sum(1 << b for b in range(size) if table.behind[b] >> a & 1) for a in range(size)]
        self.free = sum(1 << a for a, i in enumerate(topics) if when.free >> i & 1)
        pinned = [self.problem.items[i].start is not None for i in topics]
        self.earliest = [when.earliest[i] for i in topics]
        self.over = [
            self.earliest[a] + table.minutes[a] if pinned[a] else when.over[i] for a, i in enumerate(topics)
        ]
        self._draw_closer(pinned)
        self.issued_before = self._issued_before()
        self.direct = self._direct_costs()
        self.strings = Strings(table, table.everything) if any(table.behind) else None
        self.ends_at = itemgetter(*(d - 1 for d in table.minutes), 0)

    def _draw_closer(self, pinned: Sequence[bool]) -> None:
        """Minutes are fixed now, so what comes before and behind takes all of them."""
        minutes, behind = self.table.minutes, self.table.behind
        for a in sorted(range(self.size), key=lambda a: self.ahead[a].bit_count()):
            before = bits(self.ahead[a])
            if before and not pinned[a]:
                first = min(self.earliest[b] for b in before) + sum(minutes[b] for b in before)
                self.earliest[a] = max(self.earliest[a], first)
        for a in sorted(range(self.size), key=lambda a: behind[a].bit_count()):
            for b in bits(behind[a]):
                self.over[a] = min(self.over[a], self.over[b] - minutes[b])

    def _issued_before(self) -> list[int]:
        """For each position, those that stood before it in the order issued."""
        ranks = [self.problem.issued[i] for i in self.table.topics]
        return [
            sum(
                1 << b
                for b, rank in enumerate(ranks)
                if rank is not None and mine is not None and rank < mine
            )
            for mine in ranks
        ]

    def _direct_costs(self) -> list[list[int]]:
        """`[t][a]`: worth times the end of a, started at t; far too much outside its times."""
        rows = list(zip(self.table.worth, self.table.minutes, self.earliest, self.over, strict=True))
        return [
            [v * (t + d) if first <= t and t + d <= over else FAR for v, d, first, over in rows] + [FAR]
            for t in range(self.span + 1)
        ]

    def best(self, known: Sequence[int]) -> _Answer:
        """The cheapest order, with the ends as seldom sensitive as can be."""
        everything = self.table.everything
        sensitive = sum(1 << a for a, i in enumerate(self.table.topics) if self.problem.items[i].sensitive)
        line = self._improved(list(known))
        self._price(line, ROUNDS[0])
        if not sensitive or sensitive == everything:
            return self._cheapest(everything, everything, line)
        starts, ends = (sum(1 << a for a in side) for side in ends_allowed(self.table.behind, sensitive))
        open_bound = FAR
        for tries in (
            [(starts, ends)],
            [(starts, everything), (everything, ends)],
            [(everything, everything)],
        ):
            answers = [self._cheapest(first, last, line) for first, last in tries]
            open_bound = min(open_bound, *(answer.bound for answer in answers))
            found = [answer for answer in answers if answer.line]
            if found:
                best = min(found, key=lambda answer: (answer.cost, answer.line))
                return _Answer(best.line, best.cost, min(best.cost, open_bound))
        raise AssertionError("an order that keeps every rule is known")

    def _cheapest(self, starts: int, ends: int, line: Line) -> _Answer:
        """The cheapest order from one of `starts` to one of `ends`; an empty line if there is none."""
        best: Line = line if starts >> line[0][0] & 1 and ends >> line[-1][0] & 1 else ()
        goal = self._cost(best) if best else FAR
        for beam, rounds in ((BEAM, ROUNDS[1]), (0, 0)):
            root = self.bounds[0]
            if self.strings:
                root = max(root, self._tied(self.strings, 0, self.table.everything))
            if goal <= root:
                break
            walk, dropped = self._walked(goal, starts, ends, beam)
            if walk is not None:
                best, goal = walk.line, self._cost(walk.line)
                if rounds and starts == ends == self.table.everything:
                    best = self._improved([a for a, _ in best])
                    goal = self._cost(best)
            if dropped >= goal:
                return _Answer(best, goal, goal)
            if rounds:
                self._price(best or line, rounds)
            else:
                return _Answer(best, goal, max(root, dropped))
        return _Answer(best, goal, goal)

    def _cost(self, line: Line) -> int:
        minutes, worth = self.table.minutes, self.table.worth
        total = sum(worth[a] * (start + minutes[a]) for a, start in line)
        left = self.table.everything
        for a, _ in line:
            left &= ~(1 << a)
            total += self.problem.frame.mu * (left & self.issued_before[a]).bit_count()
        return total

    def _shifted(self, line: Sequence[int]) -> Line:
        """The earliest starts of an order that keeps every rule."""
        t, found = 0, []
        for a in line:
            start = max(t, self.earliest[a])
            t = start + self.table.minutes[a]
            found.append((a, start))
        return tuple(found)

    def _improved(self, line: list[int]) -> Line:
        """The order after moving single topics a few places as long as that saves anything."""
        best = self._shifted(line)
        cost = self._cost(best)
        improved = True
        while improved:
            improved = False
            for a in list(line):
                for trial in self._moves(line, a):
                    shifted = self._shifted(trial)
                    if self._in_time(shifted) and (value := self._cost(shifted)) < cost:
                        line, best, cost, improved = trial, shifted, value, True
                        break
        return best

    def _moves(self, line: list[int], a: int) -> Iterator[list[int]]:
        """The order with a up to MOVE places earlier or later, as far as the rules allow."""
        place, behind = line.index(a), self.table.behind
        rest = line[:place] + line[place + 1 :]
        for to in range(place - 1, max(-1, place - 1 - MOVE), -1):
            if behind[rest[to]] >> a & 1:
                break
            yield [*rest[:to], a, *rest[to:]]
        for to in range(place + 1, min(len(rest), place + MOVE) + 1):
            if behind[a] >> rest[to - 1] & 1:
                break
            yield [*rest[:to], a, *rest[to:]]

    def _in_time(self, line: Line) -> bool:
        minutes, over = self.table.minutes, self.over
        return all(start + minutes[a] <= over[a] for a, start in line)

    def _price(self, line: Line, rounds: int) -> None:
        """Prices and backward tables, from those under which `line` costs the same minute by minute.

        Started from the cost of a topic in that order and of the wait it causes to those behind.
        """
        worth, minutes = self.table.worth, self.table.minutes
        aim, prices, behind = self._cost(line), [0] * self.size, sum(worth)
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
        t, found = 0, list[int]()
        while t < self.total or table[t]:
            for a in range(self.size):
                start = max(t, self.earliest[a])
                end = start + self.table.minutes[a]
                if end <= self.over[a] and self.direct[start][a] - prices[a] + table[end] == table[t]:
                    found.append(a)
                    t = end
                    break
            else:
                break
        return found

    def _walked(self, ceiling: int, starts: int, ends: int, beam: int) -> tuple[Walk | None, int]:
        """The cheapest walk below `ceiling`, and the least bound among walks given up.

        With a beam only so many walks are kept at each minute; without, once CAP walks have been extended.
        """
        buckets: list[dict[int, Walk]] = [{} for _ in range(self.span + 1)]
        buckets[0][0] = Walk(0, (), -1)
        everything, bounds = self.table.everything, self.bounds
        cheapest: dict[int, int] = {}
        best: Walk | None = None
        dropped, walks = FAR, 0
        for t, bucket in enumerate(buckets):
            ranked = sorted((walk.priced, walk, mask) for mask, walk in bucket.items())
            walks += len(ranked)
            width = beam or (BEAM if walks > CAP else len(ranked))
            if len(ranked) > width:
                dropped = min(dropped, ranked[width][0] + bounds[t])
                ranked = ranked[:width]
            for priced, walk, mask in ranked:
                if cheapest.get(mask, FAR) <= priced:
                    continue
                cheapest[mask] = priced
                if mask == everything:
                    cost = priced + sum(self.prices)
                    if cost < ceiling:
                        best, ceiling = walk, cost
                    continue
                self._extend(buckets, t, mask, walk, ceiling, starts if not mask else everything, ends)
        self.walks += walks
        return best, dropped

    def _extend(
        self,
        buckets: list[dict[int, Walk]],
        t: int,
        mask: int,
        walk: Walk,
        ceiling: int,
        starts: int,
        ends: int,
    ) -> None:
        """Add each topic that can come next and still lead below the ceiling."""
        minutes, prices, mu = self.table.minutes, self.prices, self.problem.frame.mu
        left = self.table.everything & ~mask
        waiting = bits(left)
        if min(self.over[a] - minutes[a] for a in waiting) < t:
            return
        for a in waiting:
            if self.ahead[a] & left or not starts >> a & 1 or (left == 1 << a and not ends >> a & 1):
                continue
            start = max(t, self.earliest[a])
            end = start + minutes[a]
            if end > self.over[a] or not self._in_turn(walk.movable, a):
                continue
            priced = walk.priced + self.table.worth[a] * end - prices[a]
            if mu:
                priced += mu * (left & self.issued_before[a]).bit_count()
            if priced + self.bounds[end] >= ceiling:
                continue
            if self.strings and priced + self._tied(self.strings, end, left & ~(1 << a)) >= ceiling:
                continue
            known = buckets[end].get(mask | 1 << a)
            if known is None or priced < known.priced:
                movable = a if self.free >> a & 1 and start == t else -1
                buckets[end][mask | 1 << a] = Walk(priced, (*walk.line, (a, start)), movable)

    def _tied(self, strings: Strings, t: int, left: int) -> int:
        """What the topics left cost at least from minute t, with what must come first but without times.

        Counted with the prices of the topics already placed, as in a walk.
        """
        minutes, worth, prices = self.table.minutes, self.table.worth, self.prices
        alone = sum(worth[a] * (t + minutes[a]) - prices[a] for a in bits(left))
        return alone + strings.least(left) + sum(prices)

    def _in_turn(self, last: int, a: int) -> bool:
        """Whether a may follow its neighbour, or the two would better change places."""
        if last < 0 or not self.free >> a & 1 or self.table.behind[last] >> a & 1:
            return True
        one, other = self.table.cost[last][a], self.table.cost[a][last]
        return one < other or (one == other and last < a)
