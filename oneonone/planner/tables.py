"""Suffix tables over minutes: the most that the topics from a place on can bring in the minutes left.

With at most one predecessor each, free topics form a forest, and a walk that visits every topic before those
that require it can skip a whole branch when it leaves one out: the tree knapsack of Johnson & Niemi
(Mathematics of Operations Research 8, 1983), here with a choice of lengths (multiple choice: Kellerer,
Pferschy & Pisinger, Knapsack Problems, 2004). Topics bound to times follow in two chains: those that have to
be over early, and those that have to start late. In a chain the minutes of all topics from a place on must
fit before the latest end, or behind the earliest start, of the first of them (Lawler & Moore, Management
Science 16, 1969). Other ties make the tables an upper bound.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from operator import add

from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times


@dataclass(frozen=True, slots=True)
class Walk:
    """Free topics with every branch together, parents first; then late ones from `late`, early from `early`.

    `skip[p]` is the place after the branch at p; `parent[i]` the predecessor of i that the walk follows.
    `limit[p]` are the minutes in which the topics of the chain from p on have to fit. `exact` says that the
    tables leave out no rule but those of time.
    """

    line: tuple[int, ...]
    skip: tuple[int, ...]
    parent: tuple[int | None, ...]
    limit: tuple[int, ...]
    late: int
    early: int
    exact: bool


def walk(problem: Problem, times: Times | None = None) -> Walk:
    """The walk of a problem; without `times` all topics are free, dead ones are left out."""
    everything = (1 << problem.size) - 1
    free = times.rooted & ~times.dead if times else everything
    below: dict[int | None, list[int]] = {}
    parents: list[int | None] = [None] * problem.size
    exact = True
    for i in range(problem.size):
        required = problem.before[i]
        if free >> i & 1:
            parents[i] = max(
                bits(required & free), key=lambda j: (problem.before[j].bit_count(), -j), default=None
            )
            below.setdefault(parents[i], []).append(i)
        parent = parents[i]
        exact = exact and required == (0 if parent is None else problem.before[parent] | 1 << parent)
    line: list[int] = []
    skip: list[int] = []
    _visit(below, None, line, skip)
    if times is None:
        return Walk(tuple(line), tuple(skip), tuple(parents), (0,) * len(line), len(line), len(line), exact)
    late, early = _chains(times, everything & ~free & ~times.dead)
    chain = [*late, *early]
    limit = [times.span] * len(line) + [minutes for minutes, _ in chain]
    start = len(line)
    line += [i for _, i in chain]
    skip += range(start + 1, len(line) + 1)
    return Walk(tuple(line), tuple(skip), tuple(parents), tuple(limit), start, start + len(late), exact)


def _visit(below: dict[int | None, list[int]], root: int | None, line: list[int], skip: list[int]) -> None:
    for i in below.get(root, ()):
        place = len(line)
        line.append(i)
        skip.append(0)
        _visit(below, i, line, skip)
        skip[place] = len(line)


def _chains(times: Times, members: int) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """(minutes, topic) of those bound more closely at the start, and at the end, widest first."""
    late: list[tuple[int, int]] = []
    early: list[tuple[int, int]] = []
    for i in bits(members):
        behind, ahead = times.span - times.earliest[i], times.over[i]
        (late if behind < ahead else early).append((min(behind, ahead), i))
    return sorted(late, key=lambda entry: (-entry[0], entry[1])), sorted(early, key=lambda e: (-e[0], e[1]))


@dataclass
class Tables:
    """The tables of a walk, for some gains (subsidies included), in a room."""

    problem: Problem
    path: Walk
    gain: Sequence[Sequence[int]]
    room: int
    never: int = field(init=False)
    rows: list[list[int]] = field(init=False)
    _joined: dict[tuple[int, int], list[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.never = -2 * sum(max(map(abs, g)) for g in self.gain) - 1
        path, size = self.path, len(self.path.line)
        self.rows = [[0] * (self.room + 1)] * (size + 1)
        for place in range(size - 1, path.early - 1, -1):
            self.rows[place] = self._row(place, self.rows[place + 1], self.rows[place + 1])
        self._first_early = self.rows[path.early] if path.early < size else self.rows[size]
        below = [0] * (self.room + 1)
        for place in range(path.early - 1, path.late - 1, -1):
            below = self.rows[place] = self._row(place, below, below)
        top = self._join(path.late, self.room)
        for place in range(path.late - 1, -1, -1):
            after = self.rows[place + 1] if place + 1 < path.late else top
            skipped = self.rows[path.skip[place]] if path.skip[place] < path.late else top
            self.rows[place] = self._row(place, after, skipped)

    @property
    def bound(self) -> int:
        """The most that all topics can bring; negative if must-discuss topics do not fit."""
        return self.best(0, self.room, self.room, [0])

    def best(self, place: int, left: int, chain: int, spare: Sequence[int]) -> int:
        """The most from a place on, with `left` minutes in all and `chain` for this chain.

        `spare[k]` is what k minutes more bring to the topics already chosen.
        """
        path = self.path
        if path.late <= place < path.early:
            row = self._join(place, min(chain, self.room))
        elif place == path.early < len(path.line) or place < path.late:
            row = self._first_early if place >= path.late else self.rows[place]
        elif place == path.late == path.early:
            row = self._first_early
        else:
            row = self.rows[place]
            if chain < left:
                row = row[: chain + 1] + [row[chain]] * (left - chain)
        most: int = max(map(add, spare, row[left::-1]))
        return most

    def _row(self, place: int, after: list[int], skipped: list[int]) -> list[int]:
        """One table from the next: the topic at every length it can have, or skipped unless must-discuss."""
        i, room = self.path.line[place], self.room
        limit = self.path.limit[place] if place >= self.path.late else room
        options = [] if self.problem.must >> i & 1 else [skipped]
        source = after if limit >= room else after[: limit + 1]
        for minutes, worth in enumerate(self.gain[i], self.problem.items[i].least):
            if minutes > min(room, limit):
                break
            row = [self.never] * minutes + [value + worth for value in source[: room + 1 - minutes]]
            options.append(row + row[-1:] * (room + 1 - len(row)))
        if not options:
            return [self.never] * (room + 1)
        return options[0] if len(options) == 1 else list(map(max, *options))

    def _join(self, place: int, chain: int) -> list[int]:
        """The late chain from a place on within `chain` minutes, beside the whole early one."""
        if place >= self.path.early:
            return self._first_early
        key = place, chain
        if key not in self._joined:
            late = self.rows[place][: chain + 1]
            early = self._first_early
            self._joined[key] = [max(map(add, late, early[left::-1])) for left in range(self.room + 1)]
        return self._joined[key]
