"""Random agendas from fixed seeds: the draws behind every comparison and benchmark."""

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from oneonone.planner import Frame, Item

Agenda = tuple[list[Item], Frame]
SIDES = ("manager", "report", None)


def draw(seed: object, n: int, starts: int | None = None, ordered: bool | None = None) -> Agenda:
    """An agenda of n topics, the same on every machine.

    Up to three agreed starts, or exactly `starts`; musts, by hand, `after`, sensitive topics and small
    worths, so that many sets and orders are equal. `ordered`: whether an order is given; None for either.
    """
    rng = Random(f"{seed} {n}")
    minutes = rng.choice((25, 30, 45)) if n <= 8 else rng.choice((30, 45, 60, 60, 90))
    frame = Frame(minutes, opening=rng.choice((0, 4)), closing=rng.choice((0, 3, 6)))
    items = [_item(rng, i) for i in range(n)]
    items = _tied(rng, items)
    count = rng.choice((0, 0, 1, 2, 3)) if starts is None else starts
    items = _agreed(rng, items, frame, count)
    if rng.random() < 0.5 if ordered is None else ordered:
        keys = [item.key for item in items]
        frame = replace(frame, order=tuple(rng.sample(keys, k=rng.randint(min(2, n), n))))
    rng.shuffle(items)
    return items, frame


def _item(rng: Random, i: int) -> Item:
    wanted = rng.choice((3, 5, 5, 5, 8, 10, 10, 12, 15))
    return Item(
        f"t{i:02}",
        rng.choice(SIDES),
        wanted,
        rng.randint(max(1, wanted // 2), wanted),
        rng.randint(4, 12),
        rank=rng.choices((0, 1, 2), (1, 3, 2))[0] if i > 3 else rng.randint(0, 2),
        must=rng.random() < 0.08,
        by_hand=rng.random() < 0.12,
        sensitive=rng.random() < 0.15,
        tiebreak=rng.randint(0, 3),
    )


def _tied(rng: Random, items: Sequence[Item]) -> list[Item]:
    """`after` on about a quarter of the topics, in no circle: in chains, stars and small webs."""
    line = list(items)
    rng.shuffle(line)
    found = []
    for place, item in enumerate(line):
        if place and rng.random() < 0.25:
            near = line[max(0, place - 4) : place]
            after = rng.sample([one.key for one in near], k=min(len(near), rng.choice((1, 1, 2))))
            item = replace(item, after=(*after, "gone") if rng.random() < 0.1 else tuple(after))
        found.append(item)
    return sorted(found, key=lambda item: item.key)


def _agreed(rng: Random, items: Sequence[Item], frame: Frame, count: int) -> list[Item]:
    found = list(items)
    for i in rng.sample(range(len(found)), k=min(count, len(found))):
        found[i] = replace(found[i], start=rng.randint(max(0, frame.opening - 1), frame.end - 2))
    return found
