"""Planning again: what is left of a meeting under way, and what a change would do, by the same steps."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from oneonone.planner.model import Frame, Item, Plan, Slot
from oneonone.planner.problem import LONGEST, PlannerRefusal
from oneonone.planner.reasons import reason
from oneonone.planner.rule import plan


@dataclass(frozen=True, slots=True)
class Difference:
    """What changes from one plan to another: topics, and minutes of those in both.

    `moved` are pairs of keys (one, other) that change places: `one` stood first.
    """

    pushed_out: tuple[str, ...] = ()
    brought_in: tuple[str, ...] = ()
    shortened: tuple[tuple[str, int], ...] = ()
    lengthened: tuple[tuple[str, int], ...] = ()
    moved: tuple[tuple[str, str], ...] = ()


def difference(before: Plan, after: Plan) -> Difference:
    """What `after` changes of `before`."""
    old = {slot.key: slot.minutes for slot in before.slots}
    new = {slot.key: slot.minutes for slot in after.slots}
    both = [key for key in before.keys if key in new]
    place = {key: k for k, key in enumerate(after.keys)}
    return Difference(
        pushed_out=tuple(key for key in before.keys if key not in new),
        brought_in=tuple(key for key in after.keys if key not in old),
        shortened=tuple((key, old[key] - new[key]) for key in both if new[key] < old[key]),
        lengthened=tuple((key, new[key] - old[key]) for key in both if new[key] > old[key]),
        moved=tuple((one, other) for one, other in combinations(both, 2) if place[other] < place[one]),
    )


def replan(
    items: Sequence[Item],
    frame: Frame,
    previous: Plan,
    now: int,
    running: str | None = None,
    done: Sequence[str] = (),
) -> Plan:
    """The order of what is left at minute `now`, counted from the planned beginning.

    `running` keeps the start and the box it had; once over its box it takes until now, whatever it wanted.
    Topics in `done` are neither in the slots nor left out. The rest keeps the order of `previous`, with that
    of `frame.order` for topics that it lacks. An agreed start that has passed is left out, and said. `worth`
    is that of the topics still to come. Raises `PlannerRefusal`.
    """
    current = _running_slot(items, previous, now, running, done)
    return _rest(items, frame, previous, current, max(now, current.end if current else 0), done)


def next_minute(
    items: Sequence[Item], frame: Frame, previous: Plan, now: int, running: str, done: Sequence[str] = ()
) -> Difference:
    """What one minute more for the running topic, beyond its box or beyond now, takes from the others.

    Two solves. Nothing changes if the minute is free.
    """
    current = _running_slot(items, previous, now, running, done)
    end = max(now, current.end if current else 0)
    return difference(*(_rest(items, frame, previous, current, minute, done) for minute in (end, end + 1)))


def let_in(
    items: Sequence[Item], frame: Frame, key: str, standing: Plan | None = None
) -> tuple[Plan, Difference]:
    """What would let a topic in: the plan in which it must be discussed, and what that changes.

    If it cannot be in even then, it is not in that plan, whose `ways_out` tell what else would let it in.
    """
    _known(items, key)
    now = plan(items, frame) if standing is None else standing
    forced = plan([replace(item, must=True) if item.key == key else item for item in items], frame)
    return forced, difference(now, forced)


def other_start(items: Sequence[Item], frame: Frame, key: str) -> Slot | None:
    """Where a topic would be without its agreed start: another start to offer; None if it has no place."""
    _known(items, key)
    return plan([replace(item, start=None) if item.key == key else item for item in items], frame).slot(key)


def order_of(previous: Plan, order: Sequence[str]) -> tuple[str, ...]:
    """The order of a plan with those keys of another order that it lacks, each behind the key before it."""
    merged = list(previous.keys)
    for place, key in enumerate(order):
        if key not in merged:
            ahead = [merged.index(one) for one in order[:place] if one in merged]
            merged.insert(ahead[-1] + 1 if ahead else 0, key)
    return tuple(merged)


def _rest(
    items: Sequence[Item],
    frame: Frame,
    previous: Plan,
    current: Slot | None,
    begin: int,
    done: Sequence[str],
) -> Plan:
    """The plan of what is left from `begin`, behind the running slot."""
    begin = min(max(begin, frame.opening), frame.end)
    past = {*done, *([current.key] if current else [])}
    left = [item for item in items if item.key not in past]
    rest = plan(left, replace(frame, opening=begin, order=order_of(previous, frame.order)))
    first = () if current is None else (current,)
    return replace(rest, slots=(*first, *rest.slots))


def _known(items: Sequence[Item], key: str, field: str = "key") -> Item:
    for item in items:
        if item.key == key:
            return item
    raise PlannerRefusal(field, "a topic of this meeting", key)


def _running_slot(
    items: Sequence[Item], previous: Plan, now: int, running: str | None, done: Sequence[str]
) -> Slot | None:
    """The running topic's box: the one it had, from a start not in the future, stretched to now."""
    if isinstance(now, bool) or not isinstance(now, int) or not 0 <= now <= LONGEST:
        raise PlannerRefusal("now", f"a whole number of minutes from 0 to {LONGEST}")
    for key in done:
        if _known(items, key, "done").key == running:
            raise PlannerRefusal("done", "topics of this meeting that are not running", key)
    if running is None:
        return None
    item, old = _known(items, running, "running"), previous.slot(running)
    start, minutes = (min(old.start, now), old.minutes) if old else (now, item.wanted)
    end = max(start + minutes, now)
    if end > start + minutes:
        length = reason("overrun", minutes=end - start, planned=minutes)
    else:
        length = reason("running_box", minutes=minutes)
    return Slot(running, start, end, reason("running"), length)
