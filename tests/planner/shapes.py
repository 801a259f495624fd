"""Random agendas of named shapes, from fixed seeds: the draws behind every comparison and benchmark."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from random import Random

from oneonone.planner import Frame, Item

Draw = tuple[list[Item], Frame]
SIDES = ("manager", "report", None)


def _topics(rng: Random, n: int, rigid: bool = False) -> list[Item]:
    topics = []
    for i in range(n):
        wanted = rng.choice((3, 5, 5, 5, 8, 10, 10, 12, 15))
        least = wanted if rigid else rng.randint(max(1, wanted // 2), wanted)
        topics.append(Item(f"t{i:02}", rng.choice(SIDES), wanted, least, rng.randint(2, 30)))
    return topics


def _frame(rng: Random, n: int) -> Frame:
    minutes = rng.choice((30, 45, 60, 60, 90)) if n > 8 else rng.choice((25, 30, 45))
    return Frame(
        minutes, opening=rng.choice((0, 4)), closing=rng.choice((0, 3, 6)), slack=rng.choice((0, 0, 2))
    )


def plain(rng: Random, n: int) -> Draw:
    """Lengths between least useful and wanted; nothing else binds."""
    return _topics(rng, n), _frame(rng, n)


def rigid(rng: Random, n: int) -> Draw:
    """All or nothing: least useful is wanted."""
    return _topics(rng, n, rigid=True), _frame(rng, n)


def alike(rng: Random, n: int) -> Draw:
    """Worth close to the minutes, so that bounds tell little."""
    topics = [replace(item, worth=item.wanted + 2) for item in _topics(rng, n, rigid=True)]
    return topics, _frame(rng, n)


def chained(rng: Random, n: int) -> Draw:
    """Each topic after at most one other; predecessors worth little."""
    topics = _topics(rng, n)
    for i in range(1, n):
        if rng.random() < 0.5:
            ahead = rng.randrange(i)
            topics[i] = replace(topics[i], after=(topics[ahead].key,))
            topics[ahead] = replace(topics[ahead], worth=rng.randint(1, 4))
    return topics, _frame(rng, n)


def webbed(rng: Random, n: int) -> Draw:
    """Topics after up to three others."""
    topics = _topics(rng, n)
    for i in range(2, n):
        if rng.random() < 0.35:
            ahead = rng.sample(range(i), k=min(i, rng.randint(1, 3)))
            topics[i] = replace(topics[i], after=tuple(topics[j].key for j in sorted(ahead)))
    return topics, _frame(rng, n)


def musts(rng: Random, n: int) -> Draw:
    """One or two must-discuss topics, chains, and a sensitive topic or two."""
    topics, frame = chained(rng, n)
    for i in rng.sample(range(n), k=min(n, 2)):
        topics[i] = replace(topics[i], must=rng.random() < 0.7)
    for i in rng.sample(range(n), k=min(n, 2)):
        topics[i] = replace(topics[i], sensitive=True)
    return topics, frame


def floored(rng: Random, n: int) -> Draw:
    """An air floor for one or both sides."""
    topics, frame = plain(rng, n)
    shares = {"report": Fraction(rng.randint(3, 6), 10)}
    if rng.random() < 0.5:
        shares["manager"] = Fraction(rng.randint(2, 4), 10)
    return topics, replace(frame, floors=shares)


def floored_web(rng: Random, n: int) -> Draw:
    """Floors, chains and a must-discuss topic together."""
    topics, frame = musts(rng, n)
    return topics, replace(frame, floors=floored(rng, n)[1].floors)


def pinned(rng: Random, n: int) -> Draw:
    """Some rigid topics with an agreed start."""
    topics, frame = rigid(rng, n)
    return _with_pins(rng, topics, frame, rng.randint(1, max(1, min(6, n // 4)))), frame


def windowed(rng: Random, n: int) -> Draw:
    """Several topics that may not start before, or must be over by, a minute."""
    topics, frame = plain(rng, n)
    return _with_windows(rng, topics, frame, max(1, n // 3)), frame


def mixed(rng: Random, n: int) -> Draw:
    """Agreed starts, windows, chains and a must-discuss topic."""
    topics, frame = chained(rng, n)
    topics = _with_windows(rng, topics, frame, max(1, n // 5))
    topics = _with_pins(rng, topics, frame, rng.randint(1, max(1, min(3, n // 4))))
    i = rng.randrange(n)
    topics[i] = replace(topics[i], must=rng.random() < 0.5)
    return topics, frame


def crowded(rng: Random, n: int) -> Draw:
    """A window on most topics."""
    topics, frame = plain(rng, n)
    return _with_windows(rng, topics, frame, max(1, n * 3 // 4)), frame


def everything(rng: Random, n: int) -> Draw:
    """Agreed starts, windows, chains, must-discuss, sensitive topics and floors together."""
    topics, frame = mixed(rng, n)
    i = rng.randrange(n)
    topics[i] = replace(topics[i], sensitive=True)
    return topics, replace(frame, floors=floored(rng, n)[1].floors)


def _with_pins(rng: Random, topics: list[Item], frame: Frame, count: int) -> list[Item]:
    for i in rng.sample(range(len(topics)), k=count):
        last = frame.end - topics[i].least
        if last >= frame.opening:
            topics[i] = replace(topics[i], start=rng.randint(frame.opening, last), not_before=None, by=None)
    return topics


def _with_windows(rng: Random, topics: list[Item], frame: Frame, count: int) -> list[Item]:
    for i in rng.sample(range(len(topics)), k=min(count, len(topics))):
        if rng.random() < 0.5:
            topics[i] = replace(topics[i], not_before=rng.randint(frame.opening, frame.end))
        else:
            topics[i] = replace(topics[i], by=rng.randint(frame.opening, frame.end))
    return topics


UNTIMED: dict[str, Callable[[Random, int], Draw]] = {
    shape.__name__: shape for shape in (plain, rigid, alike, chained, webbed, musts, floored, floored_web)
}
TIMED: dict[str, Callable[[Random, int], Draw]] = {
    shape.__name__: shape for shape in (pinned, windowed, mixed, crowded, everything)
}
SHAPES = UNTIMED | TIMED


def draw(shape: str, seed: int, n: int) -> Draw:
    """The agenda of that shape, seed and number of topics; the same on every machine."""
    return SHAPES[shape](Random(f"{shape} {seed} {n}"), n)
