"""Topics as columns of a linear program: taken at their least useful minutes, moved towards all wanted."""

from collections.abc import Iterator, Mapping, Sequence

from oneonone.planner.problem import Problem
from oneonone.planner.rules import Rule

ALMOST = 1e-6
"""By so much parts of topics must differ to be told apart."""


class Columns:
    """Of each topic in `topics`, `at[i]` says whether it is taken, `moved[i]` how far towards all it wants.

    `gain` is what each column brings. Where the least useful minutes are worth less a minute than all that is
    wanted, and the topic is neither must-discuss nor needed by another, prices never make them the best
    length: such a topic is all or nothing here (upper hull: Sinha & Zoltners, Operations Research 27, 1979).
    """

    def __init__(self, problem: Problem, topics: Sequence[int]) -> None:
        self.at = {i: column for column, i in enumerate(topics)}
        self.moved: dict[int, int] = {}
        self.minutes: dict[int, int] = {}
        self.more: dict[int, int] = {}
        self.gain: list[float] = []
        moves: list[float] = []
        wanted = problem.must
        for before in problem.before:
            wanted |= before
        for i in topics:
            least, gain = problem.items[i].least, problem.gain[i]
            most = least + len(gain) - 1
            if gain[0] * most >= gain[-1] * least or wanted >> i & 1:
                self.gain.append(gain[0])
                self.minutes[i], self.more[i] = least, most - least
            else:
                self.gain.append(gain[-1])
                self.minutes[i], self.more[i] = most, 0
            if self.more[i]:
                self.moved[i] = len(topics) + len(moves)
                moves.append(gain[-1] - gain[0])
        self.gain += moves

    def row(self, rule: Rule) -> dict[int, float]:
        """A rule as a row over the columns."""
        row: dict[int, float] = {}
        for i, once, each in rule.entries:
            row[self.at[i]] = once + each * self.minutes[i]
            if each and i in self.moved:
                row[self.moved[i]] = each * self.more[i]
        return row

    def loose_ends(self, value: Sequence[float]) -> Iterator[Mapping[int, float]]:
        """Rows, each at most nought, for topics that are moved further than they are taken."""
        for i, column in self.moved.items():
            if value[column] > value[self.at[i]] + ALMOST:
                yield {column: 1.0, self.at[i]: -1.0}
