"""The previous plan as a candidate: where it is as good as any, it stays."""

from collections.abc import Mapping
from dataclasses import dataclass

from oneonone.planner.floors import floors_of
from oneonone.planner.model import Plan
from oneonone.planner.pairs import cost_of
from oneonone.planner.problem import Problem
from oneonone.planner.times import times


@dataclass(frozen=True, slots=True)
class Kept:
    """The topics of the previous plan in their order, from their earliest starts now."""

    line: tuple[int, ...]
    starts: tuple[int, ...]
    minutes: Mapping[int, int]
    value: int
    ends: int
    cost: int

    @property
    def used(self) -> tuple[tuple[int, int, int], ...]:
        return tuple((i, start, self.minutes[i]) for i, start in zip(self.line, self.starts, strict=True))


def kept(problem: Problem, previous: Plan | None) -> Kept | None:
    """The previous plan, shifted as early as it can be; None if it breaks a rule of the problem."""
    if previous is None:
        return None
    number = {item.key: i for i, item in enumerate(problem.items)}
    slots = [slot for slot in previous.slots if slot.key in number]
    line = tuple(number[slot.key] for slot in slots)
    minutes = {number[slot.key]: slot.minutes for slot in slots}
    if not _keeps_rules(problem, line, minutes):
        return None
    starts = _starts(problem, line, minutes)
    if starts is None:
        return None
    over = [start + minutes[i] for i, start in zip(line, starts, strict=True)]
    value = sum(problem.worth(i, d) for i, d in minutes.items())
    opening = problem.frame.opening
    return Kept(
        line,
        tuple(start - opening for start in starts),
        minutes,
        value,
        sensitive_ends(problem, line),
        cost_of(problem, line, over),
    )


def sensitive_ends(problem: Problem, line: tuple[int, ...]) -> int:
    """How many sensitive topics stand first or last."""
    return sum(problem.items[i].sensitive for i in set(line[:1] + line[-1:]))


def _keeps_rules(problem: Problem, line: tuple[int, ...], minutes: Mapping[int, int]) -> bool:
    chosen = sum(1 << i for i in line)
    if problem.must & ~chosen or sum(minutes.values()) > problem.frame.room:
        return False
    if any(not 0 <= d - problem.items[i].least < len(problem.gain[i]) for i, d in minutes.items()):
        return False
    if any(floor.balance(minutes) < 0 for floor in floors_of(problem)):
        return False
    seen = 0
    for i in line:
        if problem.before[i] & ~seen:
            return False
        seen |= 1 << i
    return not any(
        problem.goes_first(later, earlier)
        for place, earlier in enumerate(line)
        for later in line[place + 1 :]
    )


def _starts(problem: Problem, line: tuple[int, ...], minutes: Mapping[int, int]) -> list[int] | None:
    when, t, found = times(problem), 0, []
    for i in line:
        start = max(t, when.earliest[i])
        t = start + minutes[i]
        if start > when.latest[i] or t > when.over[i]:
            return None
        found.append(start + problem.frame.opening)
    return found
