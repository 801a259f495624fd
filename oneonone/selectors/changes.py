"""What is different between two plans of a meeting: the one that the reader last read, and another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from oneonone.models import Meeting, Placement
from oneonone.planner import Plan


@dataclass(frozen=True)
class Change:
    """What is different from the order the reader last marked as read: "new", "moved", "longer", "shorter".

    ``minutes`` are those it had then.
    """

    kind: str
    minutes: int = 0


def of(before: Plan | None, key: str, minutes: int, moved: set[str]) -> Change | None:
    """What is different of one topic, which has these minutes now; None before anything was read."""
    if before is None:
        return None
    then = before.slot(key)
    if then is None:
        return Change("new")
    if key in moved:
        return Change("moved", then.minutes)
    if then.minutes != minutes:
        return Change("longer" if minutes > then.minutes else "shorter", then.minutes)
    return None


def moved(before: Plan | None, keys: Sequence[str]) -> set[str]:
    """The fewest topics that must have changed places: all but a longest run still in the same order."""
    if before is None:
        return set()
    rank = {key: place for place, key in enumerate(before.keys)}
    common = [key for key in keys if key in rank]
    runs: list[list[str]] = []
    for at, key in enumerate(common):
        fitting = [runs[i] for i in range(at) if rank[common[i]] < rank[key]]
        runs.append([*_longest(fitting), key])
    return set(common) - set(_longest(runs))


def _longest(runs: Sequence[list[str]]) -> list[str]:
    return max(runs, key=lambda run: len(run), default=[])


def left(before: Plan | None, made: Plan, meeting: Meeting) -> tuple[str, ...]:
    """The titles of topics that were in the plan before and are in this one no more."""
    if before is None:
        return ()
    gone = [key for key in before.keys if made.slot(key) is None]
    if not gone:
        return ()
    rows = Placement.objects.filter(pk__in=gone, meeting=meeting)
    titles = {str(pk): title for pk, title in rows.values_list("pk", "topic__title")}
    return tuple(titles[key] for key in gone if key in titles)
