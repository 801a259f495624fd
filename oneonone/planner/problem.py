"""The meeting as the solvers see it: topics by number in a static order, worth as whole numbers.

The static order (worth a minute wanted, then worth, then key) makes every answer independent of the order
in which topics are handed in, and settles ties.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from oneonone.planner.model import Frame, Item


@dataclass(frozen=True, slots=True)
class Problem:
    """Numbered topics; sets of topics are bit masks.

    `gain[i][k]` is the scaled worth of topic i at `least + k` minutes, with `keep[i]` (scaled kappa) inside.
    `before[i]` holds every topic that i requires, directly or not; `direct[i]` those no other implies;
    `upward` are all topics, each after those it requires.
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
    upward: tuple[int, ...]
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
    beta = Fraction(frame.beta)
    scale = beta.denominator * lcm(*{max(1, t.wanted - t.least) for t in topics})
    before = _closure(topics)
    hand, rank = _places(topics, frame.order), _places(topics, issued)
    keep = tuple([0 if place is None else frame.kappa * scale for place in rank])
    share = beta.numerator * (scale // beta.denominator)
    gain = tuple([_gains(t, scale, share, kept) for t, kept in zip(topics, keep, strict=True)])
    windows = [_window(t, frame.opening, frame.end) for t in topics]
    earliest, latest, over = zip(*windows, strict=True) if windows else ((), (), ())
    return Problem(
        items=topics,
        frame=frame,
        scale=scale,
        gain=gain,
        slope=tuple([g[1] - g[0] if len(g) > 1 else 0 for g in gain]),
        keep=keep,
        before=before,
        direct=tuple([_direct(before, mask) if mask else () for mask in before]),
        upward=tuple(sorted(range(len(topics)), key=[mask.bit_count() for mask in before].__getitem__)),
        must=_with_required(sum([1 << i for i, t in enumerate(topics) if t.must]), before),
        earliest=earliest,
        latest=latest,
        over=over,
        hand=hand,
        issued=rank,
    )


def bits(mask: int) -> list[int]:
    """The topics of a set, in the static order."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def _gains(item: Item, scale: int, share: int, keep: int) -> tuple[int, ...]:
    """`share` of `scale` (beta) of the worth at the least minutes, rising evenly to all at those wanted."""
    span = item.wanted - item.least
    full = item.worth * scale + keep
    if not span:
        return (full,)
    step = item.worth * (scale - share) // span
    return tuple(range(full - step * span, full + 1, step)) if step else (full,) * (span + 1)


def _places(topics: Sequence[Item], keys: Sequence[str]) -> tuple[int | None, ...]:
    """Where each topic stands among some keys, if it does."""
    if not keys:
        return (None,) * len(topics)
    place = {key: k for k, key in enumerate(keys)}
    return tuple([place.get(t.key) for t in topics])


def _closure(topics: Sequence[Item]) -> tuple[int, ...]:
    """For each topic, all that it requires, directly or through others."""
    required = [0] * len(topics)
    tied = [i for i, t in enumerate(topics) if t.after]
    if not tied:
        return tuple(required)
    number = {t.key: i for i, t in enumerate(topics)}
    known = set[int]()

    def reach(i: int) -> int:
        if i not in known:
            known.add(i)
            for key in topics[i].after:
                required[i] |= 1 << number[key] | reach(number[key])
        return required[i]

    for i in tied:
        reach(i)
    return tuple(required)


def _direct(before: Sequence[int], required: int) -> tuple[int, ...]:
    """Of those that a topic requires, the ones that no other of them implies."""
    further = 0
    for j in bits(required):
        further |= before[j]
    return tuple(bits(required & ~further))


def _with_required(chosen: int, before: Sequence[int]) -> int:
    for i in bits(chosen):
        chosen |= before[i]
    return chosen


def _window(item: Item, opening: int, end: int) -> tuple[int, int, int]:
    earliest = opening if item.not_before is None else max(opening, item.not_before)
    over = end if item.by is None else min(end, item.by)
    latest = over - item.least
    if item.start is not None:
        latest = item.start if earliest <= item.start <= latest else -1
        earliest = max(earliest, item.start)
    return earliest, latest, over
