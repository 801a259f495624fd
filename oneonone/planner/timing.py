"""The order of chosen topics when some are bound to times: least worth times the minute each is over.

An order that keeps every rule is known. It is improved by moving single topics; then orders are built
forwards within its reach (see `walks`): a few without prices, more with first prices, all with better ones.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from oneonone.planner.instants import Instants
from oneonone.planner.order import ends_allowed
from oneonone.planner.pairs import Pairs, pairs
from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times
from oneonone.planner.walks import FAR, Line, Walks

FEW, NARROW = 40, 2
"""Walks extended before prices are sought, and those then kept at each minute."""

PHASES = ((10, 100, 8), (16, 12_000, 24))
"""Steps of the prices, walks extended with them in full, and those then kept at each minute.

What is left open after the last phase is stated in the gap.
"""

MOVE = 8
"""Places by which a single topic is moved at most when an order is improved."""


@dataclass(frozen=True, slots=True)
class Timed:
    """Topics with starts in order of time, the cost of that order, and a lower bound on it."""

    line: tuple[int, ...]
    starts: tuple[int, ...]
    cost: int
    bound: int


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

    def __post_init__(self) -> None:
        topics, when, table = self.table.topics, self.when, self.table
        size = len(topics)
        self.size = size
        self.ahead = [sum(1 << b for b in range(size) if table.behind[b] >> a & 1) for a in range(size)]
        pinned = [self.problem.items[i].start is not None for i in topics]
        self.earliest = [when.earliest[i] for i in topics]
        self.over = [
            self.earliest[a] + table.minutes[a] if pinned[a] else when.over[i] for a, i in enumerate(topics)
        ]
        self._draw_closer(pinned)
        self.issued_before = self._issued_before()
        free = sum(1 << a for a, i in enumerate(topics) if when.free >> i & 1)
        mu = self.problem.frame.mu
        self.instants = Instants(table, self.earliest, self.over, when.span)
        self.walks = Walks(table, self.earliest, self.over, free, mu, self.issued_before, when.span)

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

    def best(self, known: Sequence[int]) -> _Answer:
        """The cheapest order, with the ends as seldom sensitive as can be."""
        everything = self.table.everything
        sensitive = sum(1 << a for a, i in enumerate(self.table.topics) if self.problem.items[i].sensitive)
        line = self._shifted(known)
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
        everything = starts == ends == self.table.everything
        best: Line = line if starts >> line[0][0] & 1 and ends >> line[-1][0] & 1 else ()
        goal = self._cost(best) if best else FAR
        instants, walks = self.instants, self.walks
        walks.priced([0] * self.size)
        least = walks.least
        found, dropped = walks.cheapest([-FAR] * (instants.span + 1), goal, starts, ends, NARROW, FEW)
        unpriced = dropped
        best, goal = self._better(found, best, goal, everything)
        for rounds, cap, beam in PHASES:
            if dropped >= goal:
                return _Answer(best, goal, goal)
            if not instants.bounds or instants.bounds[0] > unpriced:
                instants.price(best or line, self._cost(best or line), rounds)
            least = max(least, instants.bounds[0])
            walks.priced(instants.prices)
            found, dropped = walks.cheapest(instants.bounds, goal, starts, ends, beam, cap)
            best, goal = self._better(found, best, goal, everything)
        return _Answer(best, goal, min(goal, max(least, dropped)))

    def _better(self, found: Line | None, best: Line, goal: int, improve: bool) -> tuple[Line, int]:
        """The line found, improved if any order will do, with its cost; else the best so far."""
        if found is None:
            return best, goal
        line = self._improved([a for a, _ in found]) if improve else found
        return line, self._cost(line)

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
