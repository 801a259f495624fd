"""The meeting as the solvers see it: topics by number in a static order, worth as whole numbers.

The static order (worth a minute wanted, then worth, then key) makes every answer independent of the order
in which topics are handed in, and settles ties.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from oneonone.planner.model import Frame, Item


@dataclass(frozen=True, slots=True)
class Problem:
    """Numbered topics; sets of topics are bit masks.

    `gain[i][k]` is the scaled worth of topic i at `least + k` minutes, with `keep[i]` (scaled kappa) inside.
    `before[i]` holds every topic that i requires, directly or not; `direct[i]` those no other implies.
    `earliest`, `latest` and `over` are the first and last minute of its start and the last of its end.
    """

    items: tuple[Item, ...]
    frame: Frame
    scale: int
    gain: tuple[tuple[int, ...], ...]
    slope: tuple[int, ...]
    keep: tuple[int, ...]
    before: tuple[int, ...]
    direct: tuple[tuple[int, ...], ...]
    must: int
    earliest: tuple[int, ...]
    latest: tuple[int, ...]
    over: tuple[int, ...]
    hand: tuple[int | None, ...]
    issued: tuple[int | None, ...]

    @property
    def size(self) -> int:
        return len(self.items)

    @property
    def timed(self) -> bool:
        """Whether any topic is bound to a time of its own."""
        opening, end = self.frame.opening, self.frame.end
        return any(
            self.earliest[i] > opening or self.over[i] < end or self.latest[i] < end - item.least
            for i, item in enumerate(self.items)
        )

    def worth(self, number: int, minutes: int) -> int:
        """The scaled worth of a topic at that many minutes."""
        return self.gain[number][minutes - self.items[number].least]

    def goes_first(self, one: int, other: int) -> bool:
        """Whether `after` or the order by hand puts one before the other, when both are in."""
        if self.before[other] >> one & 1:
            return True
        mine, theirs = self.hand[one], self.hand[other]
        return mine is not None and theirs is not None and mine < theirs


def in_static_order(items: Sequence[Item]) -> tuple[Item, ...]:
    """Most worth a minute first, then most worth, then by key."""
    common = lcm(*(item.wanted for item in items))
    return tuple(sorted(items, key=lambda i: (-i.worth * (common // i.wanted), -i.worth, i.key)))


def read(items: Sequence[Item], frame: Frame, issued: Sequence[str] = ()) -> Problem:
    """The problem of checked items; `issued` is the order of the previous plan."""
    topics = in_static_order(items)
    number = {item.key: i for i, item in enumerate(topics)}
    scale = frame.beta.denominator * lcm(*(max(1, t.wanted - t.least) for t in topics))
    before = _closure(topics, number)
    rank = {key: place for place, key in enumerate(issued)}
    keep = tuple(frame.kappa * scale if t.key in rank else 0 for t in topics)
    gain = tuple(_gains(t, frame.beta, scale, keep[i]) for i, t in enumerate(topics))
    hand = {key: place for place, key in enumerate(frame.order)}
    windows = [_window(t, frame) for t in topics]
    return Problem(
        items=topics,
        frame=frame,
        scale=scale,
        gain=gain,
        slope=tuple(g[1] - g[0] if len(g) > 1 else 0 for g in gain),
        keep=keep,
        before=before,
        direct=tuple(_direct(before, i) for i in range(len(topics))),
        must=_with_required(sum(1 << i for i, t in enumerate(topics) if t.must), before),
        earliest=tuple(window[0] for window in windows),
        latest=tuple(window[1] for window in windows),
        over=tuple(window[2] for window in windows),
        hand=tuple(hand.get(t.key) for t in topics),
        issued=tuple(rank.get(t.key) for t in topics),
    )


def upward(problem: Problem) -> list[int]:
    """All topics, each after those it requires."""
    return sorted(range(problem.size), key=lambda i: problem.before[i].bit_count())


def bits(mask: int) -> list[int]:
    """The topics of a set, in the static order."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def _gains(item: Item, beta: Fraction, scale: int, keep: int) -> tuple[int, ...]:
    """Beta of the worth at the least useful minutes, rising evenly to all of it at those wanted."""
    full = item.worth * scale
    span = item.wanted - item.least
    if not span:
        return (full + keep,)
    base = full // beta.denominator * beta.numerator
    step = (full - base) // span
    if not step:
        return (full + keep,) * (span + 1)
    return tuple(range(base + keep, full + keep + 1, step))


def _closure(topics: Sequence[Item], number: Mapping[str, int]) -> tuple[int, ...]:
    """For each topic, all that it requires, directly or through others."""
    required: dict[int, int] = {}

    def reach(i: int) -> int:
        if i not in required:
            required[i] = 0
            for key in topics[i].after:
                required[i] |= 1 << number[key] | reach(number[key])
        return required[i]

    return tuple(reach(i) for i in range(len(topics)))


def _direct(before: Sequence[int], i: int) -> tuple[int, ...]:
    if not before[i]:
        return ()
    further = 0
    for j in bits(before[i]):
        further |= before[j]
    return tuple(bits(before[i] & ~further))


def _with_required(chosen: int, before: Sequence[int]) -> int:
    for i in bits(chosen):
        chosen |= before[i]
    return chosen


def _window(item: Item, frame: Frame) -> tuple[int, int, int]:
    earliest = max(frame.opening, item.not_before or 0)
    over = frame.end if item.by is None else min(frame.end, item.by)
    latest = over - item.least
    if item.start is not None:
        latest = item.start if earliest <= item.start <= latest else -1
        earliest = max(earliest, item.start)
    return earliest, latest, over
