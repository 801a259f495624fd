"""What is different between two plans of a meeting: the one that the reader last read, and another."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from oneonone.models import Meeting, Placement
from oneonone.planner import Difference, Plan


@dataclass(frozen=True)
class Change:
    """What is different from the order the reader last marked as read: "new", "moved", "longer", "shorter".

    ``minutes`` are those it had then.
    """

    kind: str
    minutes: int = 0


def displaces(difference: Difference, but: Collection[str] = ()) -> bool:
    """Whether a topic loses its place or minutes, or changes places; ``but`` are topics not looked at."""
    lost = {
        *difference.pushed_out,
        *(key for key, _minutes in difference.shortened),
        *(key for pair in difference.moved for key in pair if not set(pair) & set(but)),
    }
    return bool(lost - set(but))


def of(before: Plan | None, key: str, minutes: int, moved: Collection[str]) -> Change | None:
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


def moved(before: Plan | None, keys: Sequence[str], by_hand: Collection[str] = ()) -> set[str]:
    """The topics that changed places: those moved by hand, and of the others the fewest that must have.

    A topic that the hand moved and moved back has not changed places.
    """
    if before is None:
        return set()
    rank = {slot.key: place for place, slot in enumerate(before.slots)}
    common = [key for key in keys if key in rank]
    rest = [key for key in common if key not in by_hand]
    found = set(rest) - set(_longest_run(rest, rank))
    return found | {key for key in common if key in by_hand and _stands_elsewhere(key, common, rank)}


def _stands_elsewhere(key: str, keys: Sequence[str], rank: dict[str, int]) -> bool:
    """Whether other topics are before it than were before."""
    at = keys.index(key)
    return set(keys[:at]) != {one for one in keys if rank[one] < rank[key]}


def _longest_run(keys: Sequence[str], rank: dict[str, int]) -> list[str]:
    """A longest part of the keys that stand in the same order as before."""
    runs: list[list[str]] = []
    for at, key in enumerate(keys):
        fitting = [runs[i] for i in range(at) if rank[keys[i]] < rank[key]]
        runs.append([*max(fitting, key=len, default=[]), key])
    return max(runs, key=len, default=[])


def left(before: Plan | None, made: Plan, meeting: Meeting) -> tuple[str, ...]:
    """The titles of topics that were in the plan before and are in this one no more."""
    if before is None:
        return ()
    gone = [slot.key for slot in before.slots if made.slot(slot.key) is None]
    if not gone:
        return ()
    rows = Placement.objects.filter(pk__in=gone, meeting=meeting)
    titles = {str(pk): title for pk, title in rows.values_list("pk", "topic__title")}
    return tuple(titles[key] for key in gone if key in titles)
