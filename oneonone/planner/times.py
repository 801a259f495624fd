"""The minutes in which topics can stand, counted from the opening, and which topics no time binds."""

from dataclasses import dataclass, replace

from oneonone.planner.problem import Problem, bits


@dataclass(frozen=True, slots=True)
class Times:
    """`earliest` and `latest` start and the minute to be `over` by, drawn closer by what must come before.

    `dead` topics have no place at all. No time of their own binds `free` topics.
    """

    span: int
    earliest: tuple[int, ...]
    latest: tuple[int, ...]
    over: tuple[int, ...]
    dead: int
    free: int


def times(problem: Problem) -> Times:
    """The times of a problem."""
    frame, items = problem.frame, problem.items
    span = max(0, frame.end - frame.opening)
    earliest = [minute - frame.opening for minute in problem.earliest]
    latest = [minute - frame.opening for minute in problem.latest]
    over = [minute - frame.opening for minute in problem.over]
    free = sum(
        1 << i
        for i, item in enumerate(items)
        if earliest[i] == 0 and over[i] == span and latest[i] == span - item.least
    )
    _draw_closer(problem, earliest, latest, over)
    dead = sum(1 << i for i in range(problem.size) if latest[i] < earliest[i])
    dead |= sum(1 << i for i in range(problem.size) if problem.before[i] & dead)
    return Times(
        span=span,
        earliest=tuple(earliest),
        latest=tuple(latest),
        over=tuple(over),
        dead=dead,
        free=free,
    )


def _draw_closer(problem: Problem, earliest: list[int], latest: list[int], over: list[int]) -> None:
    """A topic starts after all it requires; what a must-discuss topic requires is over before that starts."""
    least = [item.least for item in problem.items]
    for i in problem.upward:
        if required := bits(problem.before[i]):
            first = min(earliest[j] for j in required) + sum(least[j] for j in required)
            earliest[i] = max(earliest[i], first, *(earliest[j] + least[j] for j in required))
    for i in reversed(problem.upward):
        for j in problem.direct[i] if problem.must >> i & 1 else ():
            over[j] = min(over[j], latest[i])
            latest[j] = min(latest[j], over[j] - least[j])


def cut(problem: Problem, when: Times) -> Problem:
    """The problem without lengths for which the times of a topic leave no place."""
    gain = tuple(
        g[: max(1, when.over[i] - when.earliest[i] - problem.items[i].least + 1)]
        for i, g in enumerate(problem.gain)
    )
    return replace(
        problem,
        gain=gain,
        slope=tuple(s if len(g) > 1 else 0 for s, g in zip(problem.slope, gain, strict=True)),
    )
