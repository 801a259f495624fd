"""The core of a choice: topics whose decision a limit on the loss leaves open, in the order to decide."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from oneonone.planner.floors import Floor
from oneonone.planner.losses import Length, Losses
from oneonone.planner.problem import bits

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
    """Open topics, each after those it needs; `fixed` are minutes of others in, `loss` what others lose."""

    losses: Losses
    limit: int
    line: tuple[Open, ...]
    fixed: Mapping[int, int]
    loss: int


def core_of(losses: Losses, limit: int) -> Core | None:
    """The core at a limit; None if every choice loses as much."""
    inside, outside = losses.settled(limit)
    if inside & outside:
        return None
    loss = sum([losses.leave[i] for i in bits(outside)])
    due, ties, leave = _needs_due(losses, inside, outside)
    found: dict[int, Open] = {}
    fixed: dict[int, int] = {}
    for i in bits((1 << losses.problem.size) - 1 & ~outside):
        base = losses.enter[i] + due[i]
        lengths = [(base + lost, d) for lost, d in losses.lengths(i, limit - base)]
        if inside >> i & 1 and len(lengths) == 1:
            loss += lengths[0][0]
            fixed[i] = lengths[0][1]
        elif lengths or not inside >> i & 1:
            staying = None if inside >> i & 1 else losses.leave[i] + leave[i]
            found[i] = Open(i, lengths, staying, ties.get(i, ()))
        else:
            return None
    line = tuple(found[i] for i in _line(found, losses.floors))
    return Core(losses, limit, line, fixed, loss)


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


def _line(found: Mapping[int, Open], floors: Sequence[Floor]) -> list[int]:
    """Side by side, so that a floor is soon settled, but what a topic needs before it."""

    def side(i: int) -> int:
        return next((k for k, floor in enumerate(floors) if floor.members >> i & 1), len(floors))

    line: dict[int, None] = {}

    def visit(i: int) -> None:
        for j, _ in found[i].ties:
            if j not in line:
                visit(j)
        line[i] = None

    for i in sorted(found, key=lambda i: (side(i), i)) if floors else found:
        if i not in line:
            visit(i)
    return list(line)
