"""What `plan` accepts. Each refusal names the field, the topic, and what would be taken."""

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from oneonone.planner.model import SIDES, Frame, Item
from oneonone.planner.refusals import (
    CircleOfAfter,
    DuplicateKey,
    LeastAboveWanted,
    OrderAgainstAfter,
    OutOfRange,
    UnknownKey,
)

LONGEST = 24 * 60
"""Minutes a meeting, and so a topic, can have at most: one day."""

HIGHEST = 10**6
"""The highest worth, kappa or mu: more than any rule needs, and small enough to stay exact and quick."""


def check(items: Sequence[Item], frame: Frame) -> None:
    """Refuse what cannot be planned, by the first fault found; an accepted pair can always be answered."""
    _check_frame(frame)
    _no_duplicates("key", [item.key for item in items])
    for item in items:
        _check_item(item)
    _check_after(items)
    _check_order(items, frame)


def _whole(field: str, value: object, low: int, high: int, key: str | None = None) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise OutOfRange(field, f"a whole number from {low} to {high}", key)


def _exact(field: str, value: object, high: int, accepted: str) -> None:
    if not isinstance(value, int | Fraction) or not 0 <= value <= high:
        raise OutOfRange(field, accepted)


def _check_frame(frame: Frame) -> None:
    _whole("minutes", frame.minutes, 1, LONGEST)
    _whole("opening", frame.opening, 0, frame.minutes)
    _whole("closing", frame.closing, 0, frame.minutes - frame.opening)
    left = frame.minutes - frame.opening - frame.closing
    _exact("slack", frame.slack, left, f"a whole number or fraction of minutes from 0 to {left}")
    _exact("beta", frame.beta, 1, "a fraction from 0 to 1")
    _whole("kappa", frame.kappa, 0, HIGHEST)
    _whole("mu", frame.mu, 0, HIGHEST)
    _check_floors(frame)


def _check_floors(frame: Frame) -> None:
    floors = frame.floors or {}
    for side, share in floors.items():
        if side not in SIDES:
            raise OutOfRange("floors", "shares for 'manager' and 'report' only")
        _exact("floors", share, 1, f"a fraction from 0 to 1 for the {side}")
    if sum(floors.values(), Fraction(0)) > 1:
        raise OutOfRange("floors", "shares that add up to at most 1")


def _check_item(item: Item) -> None:
    key = item.key
    if not isinstance(key, str) or not key:
        raise OutOfRange("key", "a text that is not empty")
    if item.side is not None and item.side not in SIDES:
        raise OutOfRange("side", "'manager', 'report' or None for both", key)
    _whole("wanted", item.wanted, 1, LONGEST, key)
    _whole("least", item.least, 1, LONGEST, key)
    if item.least > item.wanted:
        raise LeastAboveWanted("least", f"at most the minutes wanted, {item.wanted}", key)
    _whole("worth", item.worth, 1, HIGHEST, key)
    if item.not_before is not None:
        _whole("not_before", item.not_before, 0, LONGEST, key)
    if item.by is not None:
        _whole("by", item.by, 0, LONGEST, key)
    if item.start is not None:
        _whole("start", item.start, 0, LONGEST, key)
    if item.asked is not None:
        _whole("asked", item.asked, 1, LONGEST, key)


def _no_duplicates(field: str, keys: Sequence[str]) -> None:
    if len(set(keys)) < len(keys):
        twice = min(key for key, times in Counter(keys).items() if times > 1)
        raise DuplicateKey(field, "each topic once", twice)


def _check_after(items: Sequence[Item]) -> None:
    tied = [item for item in items if item.after]
    if not tied:
        return
    known = {item.key for item in items}
    for item in tied:
        for key in item.after:
            if key not in known:
                raise UnknownKey("after", f"topics of this meeting only, not {key!r}", item.key)
    circle = _circle({item.key: item.after for item in tied})
    if circle:
        raise CircleOfAfter(circle)


def _circle(after: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    """The keys of one circle, each after the next, or nothing: what remains when sources are peeled off."""
    left = dict(after)
    while True:
        free = [key for key, before in left.items() if left.keys().isdisjoint(before)]
        if not free:
            break
        for key in free:
            del left[key]
    if not left:
        return ()
    walk = [min(left)]
    while True:
        step = min(other for other in left[walk[-1]] if other in left)
        if step in walk:
            return tuple(walk[walk.index(step) :])
        walk.append(step)


def _check_order(items: Sequence[Item], frame: Frame) -> None:
    _no_duplicates("order", frame.order)
    rank = {key: place for place, key in enumerate(frame.order)}
    if not rank:
        return
    before = {item.key: item.after for item in items}
    for item in items:
        if item.key not in rank:
            continue
        reached, waiting = set[str](), list(item.after)
        while waiting:
            key = waiting.pop()
            if key in reached:
                continue
            reached.add(key)
            waiting.extend(before[key])
            if rank.get(key, -1) > rank[item.key]:
                raise OrderAgainstAfter(item.key, key)
