"""The least cost of an order by going through every set of topics placed so far, with times; for up to 14."""

from collections.abc import Sequence

from oneonone.planner import Frame, Item, Plan

Front = list[tuple[int, int]]
"""Minutes and costs, none of which is both later and dearer than another."""


def least_cost(made: Plan, items: Sequence[Item], frame: Frame, issued: Sequence[str] = ()) -> int:
    """The least cost of the topics of a plan at its minutes, sensitive ones not minded."""
    chosen = [item for item in items if made.slot(item.key)]
    minutes = {slot.key: slot.minutes for slot in made.slots}
    fronts: dict[frozenset[str], Front] = {frozenset(): [(frame.opening, 0)]}
    for _ in chosen:
        following: dict[frozenset[str], Front] = {}
        for placed, front in fronts.items():
            for item in chosen:
                if item.key in placed or not _may_follow(item, placed, chosen, frame):
                    continue
                turned = _turned(item.key, placed, minutes, issued) * frame.mu
                for clock, cost in front:
                    start = max(clock, item.not_before or 0, item.start if item.start is not None else 0)
                    over = start + minutes[item.key]
                    if item.start not in (None, start) or over > min(frame.end, item.by or frame.end):
                        continue
                    more = cost + item.worth * over + turned
                    following.setdefault(placed | {item.key}, []).append((over, more))
        fronts = {placed: _lean(front) for placed, front in following.items()}
    return min(cost for front in fronts.values() for _, cost in front)


def _may_follow(item: Item, placed: frozenset[str], chosen: Sequence[Item], frame: Frame) -> bool:
    if not placed.issuperset(item.after):
        return False
    if item.key not in frame.order:
        return True
    ahead = frame.order[: frame.order.index(item.key)]
    return all(other.key in placed for other in chosen if other.key in ahead)


def _turned(key: str, placed: frozenset[str], minutes: dict[str, int], issued: Sequence[str]) -> int:
    """How many topics still to come stood before this one."""
    if key not in issued:
        return 0
    return sum(other in minutes and other not in placed for other in issued[: issued.index(key)])


def _lean(front: Front) -> Front:
    lean: Front = []
    for clock, cost in sorted(front):
        if not lean or cost < lean[-1][1]:
            lean.append((clock, cost))
    return lean
