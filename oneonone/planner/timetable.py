"""Which topics, how long and when, if some are bound to times: the greatest worth, floors included.

A timetable is a walk through the minutes. Priced (see `prices`), the best walk in which a topic may come
twice is a bound, quick to compute backwards for every minute. Then walks with the set of topics used are
built forwards, minute by minute, keeping those that can still reach a worth near the bound; if there are
none the reach is widened. (State-space relaxation made exact step by step: Ibaraki & Nakamura, 1994; Tanaka,
Fujikuma & Araki, Journal of Scheduling 12, 2009, for one machine.) A topic starts when the one before it is
over, or waits for its earliest start; no other idle minute is ever of use.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from operator import add

from oneonone.planner.floors import Floor
from oneonone.planner.prices import Prices
from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times

ROUNDS = 120
"""Steps of the prices at most."""

NARROW = 40
"""Walks kept at each minute once the search has been cut short."""

Used = tuple[int, int, int]
"""A topic, its start counted from the opening, and its minutes."""

Key = tuple[int, ...]
"""The set of topics used, their minutes where those are bounded, and the balance of each floor."""

Arc = tuple[int, int, int, int, int]
"""What can be reached through it, topic, start, minutes, priced worth."""


@dataclass(frozen=True, slots=True)
class Timetable:
    """Topics with starts and minutes in order of time, and their scaled worth."""

    used: tuple[Used, ...]
    value: int


@dataclass(frozen=True, slots=True)
class Priced:
    """What topics gain under some prices, the best from each minute on, what is fixed, and the bound."""

    gains: list[list[int]]
    table: list[int]
    fixed: int
    bound: int


@dataclass(slots=True)
class Walk:
    """A way up to some minute: its priced worth, true worth, last topic if it could move, and how it came."""

    priced: int
    value: int
    movable: int
    used: Used | None
    came: "Walk | None"

    def line(self) -> tuple[Used, ...]:
        found: list[Used] = []
        walk: Walk | None = self
        while walk is not None and walk.used is not None:
            found.append(walk.used)
            walk = walk.came
        return tuple(reversed(found))


@dataclass
class Search:
    """Timetables of the topics `among` in a room, under floors that are all to be kept."""

    problem: Problem
    times: Times
    room: int
    floors: Sequence[Floor]
    among: int
    walks: int = 0

    def __post_init__(self) -> None:
        times = self.times
        self.span, self.never = times.span, times.never
        self.earliest, self.latest, self.over = times.earliest, times.latest, times.over
        self.alive = [i for i in bits(self.among) if not times.dead >> i & 1]
        least = [item.least for item in self.problem.items]
        self.free = [
            i for i in self.alive if self.earliest[i] == 0 and self.latest[i] == self.span - least[i]
        ]
        self.bound_to_time = [i for i in self.alive if i not in set(self.free)]

    def backward(self, gains: Sequence[Sequence[int]]) -> list[int]:
        """`table[t]`: the best priced worth from minute t on, topics used any number of times."""
        items, span = self.problem.items, self.span
        longest = max((items[i].wanted for i in self.free), default=0)
        shared = [self.never] * (longest + 1)
        for i in self.free:
            for minutes, worth in enumerate(gains[i], items[i].least):
                shared[minutes] = max(shared[minutes], worth)
        opens = [[i for i in self.bound_to_time if self.earliest[i] == t] for t in range(span + 1)]
        shuts = [[i for i in self.bound_to_time if self.latest[i] == t] for t in range(span + 1)]
        table = [0] * (span + 1)
        waiting = 0
        active: set[int] = set()
        for t in range(span, -1, -1):
            best = max(waiting, max(map(add, shared, table[t : t + longest + 1])) if self.free else 0)
            active.update(shuts[t])
            for i in active:
                least = items[i].least
                ends = table[t + least : self.over[i] + 1]
                worth = max(map(add, gains[i], ends), default=self.never)
                best = max(best, worth)
                if self.earliest[i] == t:
                    waiting = max(waiting, worth)
            active.difference_update(opens[t])
            table[t] = max(0, best)
        return table

    def best_walk(self, gains: Sequence[Sequence[int]], table: Sequence[int]) -> list[tuple[int, int]]:
        """The (topic, minutes) of a walk that the bound stands for."""
        used, t = [], 0
        while table[t] > 0:
            for i, start in self._starts(t):
                least = self.problem.items[i].least
                ends = table[start + least : self.over[i] + 1]
                worths = list(map(add, gains[i], ends))
                if worths and max(worths) == table[t]:
                    minutes = least + worths.index(max(worths))
                    used.append((i, minutes))
                    t = start + minutes
                    break
        return used

    def _starts(self, t: int) -> Iterator[tuple[int, int]]:
        """Every topic that can come next at minute t, with its start."""
        for i in self.alive:
            if self.earliest[i] > t:
                yield i, self.earliest[i]
            elif self.latest[i] >= t:
                yield i, t

    def priced(self, aim: int) -> Priced:
        """The best prices found on the way to a bound of `aim`, which some timetable is known to reach."""
        prices = Prices(self.problem, self.room, self.floors, self.alive)
        best: Priced | None = None
        stalled, pace = 0, 8
        for _ in range(ROUNDS):
            gains = prices.gains()
            table = self.backward(gains)
            bound = table[0] + prices.fixed
            if best is None or bound < best.bound:
                stalled = stalled if best is not None and best.bound - bound < bound // 5000 else 0
                best = Priced(gains, table, prices.fixed, bound)
            stalled += 1
            if stalled > 10:
                stalled, pace = 0, pace // 2
            if bound <= aim or not pace:
                break
            distance = (bound - aim) * pace // 8
            prices.move(self.best_walk(gains, table), bound, bound - distance)
        if best is None:
            raise AssertionError("at least one round")
        return best

    def better_than(self, known: int, limit: int, cap: int) -> tuple[Timetable | None, int]:
        """A timetable worth more than `known`, the best there is, and a bound on every timetable.

        `limit` is a bound found otherwise. None if there is none better, or none was found within `cap`
        walks; the bound tells which.
        """
        if self.problem.must & ~self.among or self.problem.must & self.times.dead:
            return None, known
        priced = self.priced(known)
        bound = min(limit, priced.bound)
        reach = max(1, bound // 500)
        while bound > known:
            floor = max(known, bound - 1 - reach)
            found, dropped = self._walked(priced, floor, cap)
            if found is not None:
                return Timetable(found.line(), found.value), min(bound, max(found.value, dropped))
            bound = min(bound, max(floor, dropped))
            if floor == known or self.walks > cap:
                break
            reach *= 3
        return None, bound

    def _walked(self, priced: Priced, floor: int, cap: int) -> tuple[Walk | None, int]:
        """The best walk worth more than `floor`, and the best bound among walks given up for want of time."""
        buckets: list[dict[Key, Walk]] = [{} for _ in range(self.span + 1)]
        buckets[0][0, 0, *(rule.short for rule in self.floors)] = Walk(0, 0, -1, None, None)
        table, fixed = priced.table, priced.fixed
        best: Walk | None = None
        goal, dropped = floor, -1
        for t, bucket in enumerate(buckets):
            if not bucket:
                continue
            walks = sorted(bucket.items(), key=lambda entry: (-entry[1].priced, entry[0]))
            bucket.clear()
            width = max(NARROW, (cap - self.walks) // 4)
            if len(walks) > width:
                dropped = max(dropped, walks[width][1].priced + fixed + table[t])
                walks = walks[:width]
            self.walks += len(walks)
            for key, walk in walks:
                done = not self.problem.must & ~key[0] and min(key[2:], default=0) >= 0
                if done and walk.value > goal:
                    best, goal = walk, walk.value
            arcs = self._arcs(t, priced.gains, table, goal - fixed - walks[0][1].priced)
            for key, walk in walks:
                self._extend(buckets, key, walk, arcs, goal - fixed - walk.priced)
        return best, dropped

    def _extend(
        self, buckets: list[dict[Key, Walk]], key: Key, walk: Walk, arcs: Sequence[Arc], least: int
    ) -> None:
        """Add a topic to a walk in every way that can still reach more than `least`."""
        problem, times = self.problem, self.times
        before, behind, better, free = problem.before, times.behind, times.better, times.free
        mask, minutes = key[0], key[1]
        counted = self.room < self.span or bool(self.floors)
        for reachable, i, start, d, worth in arcs:
            if reachable <= least:
                return
            if mask >> i & 1 or before[i] & ~mask or behind[i] & mask or better[i] & ~mask:
                continue
            movable = i if free >> i & 1 else -1
            if movable >= 0 and walk.movable > i and not problem.goes_first(walk.movable, i):
                continue
            used = minutes + d if counted else 0
            if used > self.room:
                continue
            balance = [value + rule.weight(i) * d for value, rule in zip(key[2:], self.floors, strict=True)]
            bucket, new = buckets[start + d], (mask | 1 << i, used, *balance)
            priced = walk.priced + worth
            known = bucket.get(new)
            if known is None or priced > known.priced:
                value = walk.value + problem.worth(i, d)
                bucket[new] = Walk(priced, value, movable, (i, start, d), walk)

    def _arcs(self, t: int, gains: Sequence[Sequence[int]], table: Sequence[int], least: int) -> list[Arc]:
        """Every topic, start and length that can follow at minute t, most reachable first."""
        arcs = []
        for i, start in self._starts(t):
            low = start + self.problem.items[i].least
            for end, worth in zip(range(low, self.over[i] + 1), gains[i], strict=False):
                reachable = worth + table[end]
                if reachable > least:
                    arcs.append((reachable, i, start, end - start, worth))
        arcs.sort(key=lambda arc: (-arc[0], arc[1], arc[3]))
        return arcs
