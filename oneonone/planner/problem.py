"""Topics and meeting as the steps read them: checked, numbered in the static order, needs and order closed.

Each refusal names the field, the topic and what would be accepted.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from oneonone.planner.model import FIRST, IF_TIME, SIDES, Frame, Item

LONGEST = 24 * 60
"""Minutes a meeting, and so a topic, can have at most: one day."""

HIGHEST_WORTH = 10**6
"""More than any rule of worth needs, and small enough to stay exact and quick."""


class PlannerRefusal(ValueError):
    """Input that cannot be planned. `field` is at fault, `key` its topic, `accepted` would do."""

    def __init__(self, field: str, accepted: str, key: str | None = None) -> None:
        self.field = field
        self.accepted = accepted
        self.key = key
        where = field if key is None else f"{field} of topic {key!r}"
        super().__init__(f"{where}: {accepted}")


@dataclass
class Problem:
    """Checked topics, numbered in the static order: by `tiebreak`, then by key.

    `needs[i]` are the topics that i names in `after`, `needs_all[i]` those and all that they need in turn.
    `pairs` are those (one, other) of `Frame.order` in which one has to come before the other. `timed` topics
    have an agreed start.
    """

    items: tuple[Item, ...]
    frame: Frame
    needs: tuple[frozenset[int], ...]
    needs_all: tuple[frozenset[int], ...]
    pairs: frozenset[tuple[int, int]]

    def __post_init__(self) -> None:
        items = self.items
        self.topics = range(len(items))
        self.least = [item.least for item in items]
        self.keep = [item.keep for item in items]
        self.wanted = [item.wanted for item in items]
        self.worth = [item.worth for item in items]
        self.rank = [FIRST if item.must else item.rank for item in items]
        self.start = [item.start for item in items]
        self.timed = frozenset([i for i in self.topics if items[i].start is not None])

    def with_needs(self, topics: Iterable[int]) -> frozenset[int]:
        """Those topics and all that they need."""
        found = set(topics)
        return frozenset(found.union(*[self.needs_all[i] for i in found]))


def read(items: Sequence[Item], frame: Frame) -> Problem:
    """The problem of these topics; refuses the first fault found. Unknown keys are ignored."""
    _check(items, frame)
    topics = tuple(sorted(items, key=lambda item: (item.tiebreak, item.key)))
    number = {item.key: i for i, item in enumerate(topics)}
    needs = tuple(frozenset([number[key] for key in item.after if key in number]) for item in topics)
    order = [number[key] for key in frame.order if key in number]
    return Problem(topics, frame, needs, _closed(topics, needs), _pairs(topics, needs, order))


def _pairs(
    topics: Sequence[Item], needs: Sequence[frozenset[int]], order: Sequence[int]
) -> frozenset[tuple[int, int]]:
    """Each topic of the order with those before it, nearest first, but for pairs that cannot hold.

    A pair is dropped if it closes a circle with `after` and the pairs kept so far, or if the starts agreed
    for its two topics stand the other way round.
    """
    before, behind = [1 << i for i in range(len(topics))], [1 << i for i in range(len(topics))]
    kept = set[tuple[int, int]]()

    def join(one: int, other: int) -> None:
        """Note that one comes before the other, with all that follows from it."""
        if not behind[one] >> other & 1:
            ahead, later = before[one], behind[other]
            for i in bits(ahead):
                behind[i] |= later
            for i in bits(later):
                before[i] |= ahead

    for i, needed in enumerate(needs if order else ()):
        for j in needed:
            join(j, i)
    for place, other in enumerate(order):
        for one in reversed(order[:place]):
            first, second = topics[one].start, topics[other].start
            contradicts = first is not None and second is not None and first > second
            if not contradicts and not behind[other] >> one & 1:
                join(one, other)
                kept.add((one, other))
    return frozenset(kept)


def bits(mask: int) -> list[int]:
    """The places of the bits that are set."""
    return [i for i in range(mask.bit_length()) if mask >> i & 1]


def _check(items: Sequence[Item], frame: Frame) -> None:
    _whole("minutes", frame.minutes, 1, LONGEST)
    _whole("opening", frame.opening, 0, frame.minutes)
    _whole("closing", frame.closing, 0, frame.minutes - frame.opening)
    for field, keys in (("key", [item.key for item in items]), ("order", frame.order)):
        twice = min([key for key, times in Counter(keys).items() if times > 1], default=None)
        if twice is not None:
            raise PlannerRefusal(field, "each topic once", twice)
    for item in items:
        _check_item(item)


def _check_item(item: Item) -> None:
    key = item.key
    if not isinstance(key, str) or not key:
        raise PlannerRefusal("key", "a text that is not empty")
    if item.side is not None and item.side not in SIDES:
        raise PlannerRefusal("side", "'manager', 'report' or None for both", key)
    _whole("wanted", item.wanted, 1, LONGEST, key)
    _whole("least", item.least, 1, LONGEST, key)
    if item.least > item.wanted:
        raise PlannerRefusal("least", f"at most the minutes wanted, {item.wanted}", key)
    _whole("worth", item.worth, 1, HIGHEST_WORTH, key)
    _whole("rank", item.rank, FIRST, IF_TIME, key)
    _whole("tiebreak", item.tiebreak, -(10**15), 10**15, key)
    if item.start is not None:
        _whole("start", item.start, 0, LONGEST, key)
    if item.asked is not None:
        _whole("asked", item.asked, 1, LONGEST, key)


def _whole(field: str, value: object, low: int, high: int, key: str | None = None) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise PlannerRefusal(field, f"a whole number from {low} to {high}", key)


def _closed(topics: Sequence[Item], needs: Sequence[frozenset[int]]) -> tuple[frozenset[int], ...]:
    """For each topic all that it needs, directly or not; refuses a circle."""
    closed: dict[int, frozenset[int]] = {}
    while len(closed) < len(needs):
        ready = [i for i, needed in enumerate(needs) if i not in closed and needed <= closed.keys()]
        for i in ready:
            closed[i] = needs[i].union(*[closed[j] for j in needs[i]])
        if not ready:
            walk = [min(i for i in range(len(needs)) if i not in closed)]
            while (step := min(needs[walk[-1]] - closed.keys())) not in walk:
                walk.append(step)
            around = " after ".join(topics[i].key for i in (*walk[walk.index(step) :], step))
            raise PlannerRefusal("after", f"topics in no circle; found {around}")
    return tuple(closed[i] for i in range(len(needs)))
