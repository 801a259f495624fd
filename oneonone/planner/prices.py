"""Prices that turn rules tying topics together into terms of single topics (Lagrangian relaxation).

A topic is used once (a price per topic), minutes are bounded in all (per minute), a topic needs its
predecessors (per pair), a side keeps its share (per floor). For any prices, the best timetable without those
rules is an upper bound on the worth of every timetable that keeps them; a few subgradient steps (Held, Wolfe
& Crowder, Mathematical Programming 6, 1974) bring it close. All in whole scaled worth.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, bits


@dataclass
class Prices:
    """One set of prices. Those of must-discuss topics may be negative, no other may."""

    problem: Problem
    room: int
    floors: Sequence[Floor]
    alive: Sequence[int]
    topic: list[int] = field(init=False)
    minute: int = 0
    pair: dict[tuple[int, int], int] = field(init=False)
    floor: list[int] = field(init=False)

    def __post_init__(self) -> None:
        problem = self.problem
        self.pair = {(i, j): 0 for i in self.alive for j in problem.direct[i]}
        self.floor = [0] * len(self.floors)
        self.topic = self._first(_marginal(problem, self.room))

    def _first(self, price: int) -> list[int]:
        """What each topic earns beyond its minutes: the prices of the plain knapsack."""
        problem = self.problem
        earned = [
            max(worth - price * minutes for minutes, worth in enumerate(gain, item.least))
            for gain, item in zip(problem.gain, problem.items, strict=True)
        ]
        alive = set(self.alive)
        return [
            (e if problem.must >> i & 1 else max(0, e)) if i in alive else 0 for i, e in enumerate(earned)
        ]

    @property
    def fixed(self) -> int:
        """The part of the bound that no timetable changes."""
        short = sum(price * floor.short for price, floor in zip(self.floor, self.floors, strict=True))
        return sum(self.topic) + self.minute * self.room + short

    def gains(self) -> list[list[int]]:
        """What each topic brings at each length after all prices."""
        problem = self.problem
        shift = [-price for price in self.topic]
        for (i, j), price in self.pair.items():
            shift[i] -= price
            shift[j] += price
        found = []
        for i, gain in enumerate(problem.gain):
            step = -self.minute
            for price, floor in zip(self.floor, self.floors, strict=True):
                step += price * floor.weight(i)
            first, least = shift[i], problem.items[i].least
            found.append([worth + first + step * d for d, worth in enumerate(gain, least)])
        return found

    def move(self, used: Sequence[tuple[int, int]], bound: int, aim: int) -> None:
        """One step against the rules that a timetable of (topic, minutes) breaks or does not use up."""
        problem = self.problem
        times = [0] * problem.size
        minutes = [0] * problem.size
        for i, d in used:
            times[i] += 1
            minutes[i] += d
        topic = [0] * problem.size
        for i in self.alive:
            over = times[i] - 1
            topic[i] = 0 if over < 0 and self.topic[i] <= 0 and not problem.must >> i & 1 else over
        spare = self.room - sum(minutes)
        spare = 0 if spare > 0 and not self.minute else spare
        pair = {(i, j): times[j] - times[i] for i, j in self.pair}
        pair = {key: v for key, v in pair.items() if v < 0 or (v > 0 and self.pair[key])}
        kept = [floor.balance(minutes) for floor in self.floors]
        kept = [v if v < 0 or price else 0 for v, price in zip(kept, self.floor, strict=True)]
        norm = sum(t * t for t in topic) + spare * spare + sum(v * v for v in pair.values())
        norm += sum(v * v for v in kept)
        if not norm:
            return
        step = max(1, (bound - aim) // norm)
        for i, over in enumerate(topic):
            moved = self.topic[i] + step * over
            self.topic[i] = moved if problem.must >> i & 1 else max(0, moved)
        self.minute = max(0, self.minute - step * spare)
        for key, v in pair.items():
            self.pair[key] = max(0, self.pair[key] - step * v)
        self.floor = [max(0, price - step * v) for price, v in zip(self.floor, kept, strict=True)]


def _marginal(problem: Problem, room: int) -> int:
    """The worth a minute of the topic at which the room runs out, densest first."""
    left = room - sum(problem.items[i].least for i in bits(problem.must))
    for i, item in enumerate(problem.items):
        if problem.must >> i & 1:
            continue
        left -= item.wanted
        if left <= 0:
            return problem.gain[i][-1] // item.wanted
    return 0
