"""Times drawn closer by one another: topics that are in stand in the way of all others.

Of two topics one comes before the other; where only one way round leaves room for the least minutes of both,
it tells something of their times (disjunctive constraints: Carlier & Pinson, Management Science 35, 1989).
"""

from collections.abc import Sequence
from dataclasses import replace

from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times

ROUNDS = 4
"""Passes over all pairs; times that could be drawn closer still are true all the same."""


def narrowed(problem: Problem, when: Times, inside: int, topics: Sequence[int]) -> Times:
    """The times of `topics` once those `inside` are in; one that then has no place is dead.

    Should one of those inside be dead, they cannot be placed together.
    """
    search = _Narrowing(problem, when, inside, topics)
    search.run()
    return replace(
        when,
        earliest=tuple(search.earliest),
        latest=tuple(search.latest),
        over=tuple(search.over),
        dead=search.dead,
    )


class _Narrowing:
    def __init__(self, problem: Problem, when: Times, inside: int, topics: Sequence[int]) -> None:
        self.problem, self.inside, self.topics, self.span = problem, inside, topics, when.span
        self.earliest, self.latest, self.over = list(when.earliest), list(when.latest), list(when.over)
        self.dead, self.changed = when.dead, True
        self.least = [item.least for item in problem.items]
        self.upward = sorted(topics, key=lambda i: problem.before[i].bit_count())

    def run(self) -> None:
        for _ in range(ROUNDS):
            self.changed = False
            self._along_needs()
            for j in bits(self.inside):
                if self.earliest[j] or self.latest[j] < self.span - self.least[j]:
                    self._beside(j)
            if not self.changed or self.dead & self.inside:
                break

    def _begin(self, i: int, first: int) -> None:
        """Topic i starts at that minute or later."""
        if first > self.earliest[i]:
            self.earliest[i] = first
            self.changed = True
            if first > self.latest[i]:
                self.dead |= 1 << i

    def _end(self, i: int, last: int) -> None:
        """Topic i is over by that minute."""
        if last < self.over[i]:
            self.over[i] = last
            self.changed = True
            if last - self.least[i] < self.latest[i]:
                self.latest[i] = last - self.least[i]
                if self.latest[i] < self.earliest[i]:
                    self.dead |= 1 << i

    def _along_needs(self) -> None:
        """A topic starts after those it needs; those that one inside needs are over before it starts."""
        direct, least = self.problem.direct, self.least
        for i in self.upward:
            for j in direct[i]:
                self._begin(i, self.earliest[j] + least[j])
            if self.problem.before[i] & self.dead:
                self.dead |= 1 << i
        for i in reversed(self.upward):
            if self.inside >> i & 1:
                for j in direct[i]:
                    self._end(j, self.latest[i])

    def _beside(self, j: int) -> None:
        """Draw closer the times of all that are to stand beside j, which is in."""
        earliest, latest, least, inside = self.earliest, self.latest, self.least, self.inside
        mine = least[j]
        for i in self.topics:
            first = earliest[i] + least[i] <= latest[j]
            behind = earliest[j] + mine <= latest[i]
            if (first and behind) or i == j or self.dead >> i & 1:
                continue
            if first:
                self._end(i, latest[j])
                if inside >> i & 1:
                    self._begin(j, earliest[i] + least[i])
            elif behind:
                self._begin(i, earliest[j] + mine)
                if inside >> i & 1:
                    self._end(j, latest[i])
            else:
                self.dead |= 1 << i
                self.changed = True
