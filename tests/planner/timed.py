"""Plans of timed draws as the searches see them: the problem, its times, and the placement chosen."""

from collections.abc import Iterator
from dataclasses import dataclass

from oneonone.planner import Frame, Item, plan
from oneonone.planner.floors import Floor, floors_of
from oneonone.planner.problem import Problem, read
from oneonone.planner.times import Times, cut, times
from tests.planner.shapes import TIMED, draw


@dataclass(frozen=True)
class Example:
    """A draw with its plan: `used` are (topic, start from the opening, minutes) in order."""

    items: list[Item]
    frame: Frame
    problem: Problem
    times: Times
    floors: list[Floor]
    used: tuple[tuple[int, int, int], ...]
    value: int

    @property
    def chosen(self) -> int:
        return sum(1 << i for i, _, _ in self.used)

    @property
    def alive(self) -> list[int]:
        return [i for i in range(self.problem.size) if not self.times.dead >> i & 1]

    @property
    def topics(self) -> list[int]:
        return sorted(i for i, _, _ in self.used)


def examples(n: int, seeds: range) -> Iterator[Example]:
    """The draws of every timed shape in which nothing had to give way, and shares are kept as such."""
    for shape in TIMED:
        for seed in seeds:
            items, frame = draw(shape, seed, n)
            made = plan(items, frame)
            problem = read(items, frame)
            number = {item.key: i for i, item in enumerate(problem.items)}
            used = tuple((number[s.key], s.start - frame.opening, s.minutes) for s in made.slots)
            minutes = {i: d for i, _, d in used}
            floors = floors_of(problem)
            regular = made.slots and not made.relaxed and not made.infeasible
            if regular and all(floor.balance(minutes) >= 0 for floor in floors):
                when = times(problem)
                value = sum(problem.worth(i, d) for i, d in minutes.items())
                yield Example(items, frame, cut(problem, when), when, floors, used, value)
