"""The core of a choice: the topics whose decision a limit on the loss leaves open."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from oneonone.planner.floors import Floor
from oneonone.planner.losses import Length, Losses

Ties = Sequence[tuple[int, int]]
"""Topics that one needs, and the price of leaving that one out while they are in."""


@dataclass(slots=True)
class Open:
    """A topic of the core: its lengths, what leaving it out loses (None if it is in), and its ties."""

    topic: int
    lengths: Sequence[Length]
    leave: int | None
    ties: Ties


@dataclass(frozen=True, slots=True)
class Core:
    """Open topics; `fixed` are the minutes of other topics that are in, `loss` is what all others lose.

    `tied` topics need other open topics, or are needed by some; `loose` ones are neither. Both stand side by
    side, those of the first floor's side first and those of no floor last, but what a topic needs before it.
    """

    losses: Losses
    limit: int
    tied: tuple[tuple[Open, ...], ...]
    loose: tuple[tuple[Open, ...], ...]
    fixed: Mapping[int, int]
    loss: int


def core_of(losses: Losses, limit: int) -> Core | None:
    """The core at a limit; None if every choice loses as much."""
    inside, outside = losses.settled(limit)
    if inside & outside:
        return None
    loss = 0
    due, ties, leave = _needs_due(losses, inside, outside)
    found: dict[int, Open] = {}
    fixed: dict[int, int] = {}
    for i, lost in enumerate(losses.leave):
        if outside >> i & 1:
            loss += lost
            continue
        base = losses.enter[i] + due[i]
        lengths = losses.lengths(i, base, limit)
        if inside >> i & 1 and len(lengths) == 1:
            loss += lengths[0][0]
            fixed[i] = lengths[0][1]
        elif lengths or not inside >> i & 1:
            staying = None if inside >> i & 1 else lost + leave[i]
            found[i] = Open(i, lengths, staying, ties.get(i, ()))
        else:
            return None
    return Core(losses, limit, *_side_by_side(found, losses.floors), fixed, loss)


def _needs_due(
    losses: Losses, inside: int, outside: int
) -> tuple[list[int], dict[int, list[tuple[int, int]]], list[int]]:
    """Prices due when a topic enters, the ties between open topics, and prices due when a topic leaves."""
    problem, needs = losses.problem, losses.prices.needs
    due, leave = [0] * problem.size, [0] * problem.size
    ties: dict[int, list[tuple[int, int]]] = {}
    for i, needed in enumerate(problem.direct):
        for j in needed:
            price = needs.get((i, j), 0)
            if outside >> i & 1:
                due[j] += price
            elif inside >> j & 1:
                leave[i] += price
            elif not inside >> i & 1:
                ties.setdefault(i, []).append((j, price))
    return due, ties, leave


def _side_by_side(
    found: Mapping[int, Open], floors: Sequence[Floor]
) -> tuple[tuple[tuple[Open, ...], ...], tuple[tuple[Open, ...], ...]]:
    """Topics with ties and without, by the floor whose side they are of, and those of none."""
    tied: list[list[Open]] = [[] for _ in range(len(floors) + 1)]
    loose: list[list[Open]] = [[] for _ in range(len(floors) + 1)]
    bound = {j for topic in found.values() for j, _ in topic.ties}
    seen = set[int]()

    def visit(i: int, side: int) -> None:
        if i not in seen:
            seen.add(i)
            for j, _ in found[i].ties:
                visit(j, side)
            tied[side].append(found[i])

    for side, members in enumerate([*(floor.members for floor in floors), -1]):
        for i, topic in found.items():
            if members >> i & 1 and i not in seen:
                if topic.ties or i in bound:
                    visit(i, side)
                else:
                    seen.add(i)
                    loose[side].append(topic)
    return tuple(map(tuple, tied)), tuple(map(tuple, loose))
