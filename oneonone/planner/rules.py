"""The rules of a choice as sums over topics.

Every rule reads: for the topics chosen, what each of them counts and what each of its minutes counts add up
to at most a bound. The room is one, a floor is one, so is "needs", and so is every span of minutes: topics
that have to stand within it, or partly within it, take no more than its minutes (energetic reasoning:
Baptiste, Le Pape & Nuijten, Constraint-Based Scheduling, 2001).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem
from oneonone.planner.times import Times

FINE = 1 << 12
"""Prices are whole numbers of this part of a scaled worth."""


@dataclass(frozen=True, slots=True)
class Rule:
    """Over the chosen topics, `once` and `each` x minutes add up to at most `bound`: (topic, once, each)."""

    entries: tuple[tuple[int, int, int], ...]
    bound: int


def room_rule(alive: Sequence[int], room: int) -> Rule:
    return Rule(tuple((i, 0, 1) for i in alive), room)


def floor_rule(floor: Floor, alive: Sequence[int]) -> Rule:
    return Rule(tuple((i, 0, -floor.weight(i)) for i in alive), floor.short)


def need_rule(i: int, j: int) -> Rule:
    """Topic i needs topic j."""
    return Rule(((i, 1, 0), (j, -1, 0)), 0)


def span_rules(problem: Problem, times: Times, alive: Sequence[int]) -> list[Rule]:
    """A rule for every span of minutes that topics bound to times could overfill."""
    items, span = problem.items, times.span
    most = {i: items[i].least + len(problem.gain[i]) - 1 for i in alive}
    over = {i: min(times.over[i], times.latest[i] + most[i]) for i in alive}
    bound = [
        (i, items[i].least, most[i], times.earliest[i], times.latest[i], over[i])
        for i in alive
        if times.earliest[i] or over[i] < span
    ]
    opens, shuts = {0}, {span}
    for _, least, _, earliest, latest, end in bound:
        opens.add(earliest)
        shuts.add(end)
        if earliest == latest:
            opens.add(earliest + least)
            shuts.add(latest)
    lasts = sorted(shuts)
    found: dict[tuple[tuple[int, int, int], ...], int] = {}
    for first in sorted(opens):
        reaching = [topic for topic in bound if topic[3] + topic[1] > first]
        for last in lasts:
            if last > first and (first or last < span):
                entries, full = _within(reaching, first, last)
                if full > last - first and found.get(entries, last) > last - first:
                    found[entries] = last - first
    return [Rule(entries, minutes) for entries, minutes in found.items()]


def _within(
    topics: Sequence[tuple[int, int, int, int, int, int]], first: int, last: int
) -> tuple[tuple[tuple[int, int, int], ...], int]:
    """What topics have to take of the minutes from first to last, and the most that can be."""
    entries, full = [], 0
    for i, least, most, earliest, latest, over in topics:
        if latest >= last:
            continue
        if earliest >= first and over <= last:
            entries.append((i, 0, 1))
            full += most
        else:
            inside = min(least, last - first, earliest + least - first, last - latest)
            entries.append((i, inside, 0))
            full += inside
    return tuple(entries), full
