"""Small agendas against every set, length, and order there is."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import combinations, permutations, product

import pytest

from oneonone.planner import Frame, Item, Plan, Slot, plan
from oneonone.planner.reasons import reason
from tests.planner.rules import assert_keeps_floors, cost_of, worth_of
from tests.planner.shapes import SHAPES, draw


def _starts(line: Sequence[Item], minutes: dict[str, int], frame: Frame) -> list[int] | None:
    """The earliest starts of an order, or None if it breaks a rule of order or time."""
    clock, starts, seen = frame.opening, [], set[str]()
    for item in line:
        if not seen.issuperset(item.after):
            return None
        start = max(clock, item.not_before or 0, item.start if item.start is not None else 0)
        clock = start + minutes[item.key]
        if clock > frame.end or (item.start is not None and start != item.start):
            return None
        if item.by is not None and clock > item.by:
            return None
        starts.append(start)
        seen.add(item.key)
    ranked = [key for key in frame.order if key in seen]
    return starts if ranked == [item.key for item in line if item.key in ranked] else None


def _candidates(items: Sequence[Item], frame: Frame) -> Iterator[tuple[tuple[Item, ...], dict[str, int]]]:
    """Every set with every choice of lengths that fits the room and holds what is must-discuss."""
    for size in range(len(items) + 1):
        for chosen in combinations(items, size):
            if any(item.must and item not in chosen for item in items):
                continue
            for lengths in product(*(range(item.least, item.wanted + 1) for item in chosen)):
                if sum(lengths) <= frame.room:
                    yield chosen, dict(zip([item.key for item in chosen], lengths, strict=True))


def _sketch(line: Sequence[Item], starts: Sequence[int], minutes: dict[str, int]) -> Plan:
    why = reason("only")
    return Plan(
        tuple(
            Slot(item.key, start, start + minutes[item.key], why, why)
            for item, start in zip(line, starts, strict=True)
        )
    )


def _best_worth(items: Sequence[Item], frame: Frame) -> Fraction | None:
    best: Fraction | None = None
    for chosen, minutes in _candidates(items, frame):
        sketch = _sketch(chosen, [0] * len(chosen), minutes)
        worth = worth_of(sketch, items, frame.beta)
        if best is not None and worth <= best:
            continue
        try:
            assert_keeps_floors(sketch, items, frame)
        except AssertionError:
            continue
        if any(_starts(line, minutes, frame) is not None for line in permutations(chosen)):
            best = worth
    return best


def _least_cost(items: Sequence[Item], frame: Frame, made: Plan) -> tuple[int, int]:
    """(sensitive topics first or last, cost) of the best order of a plan's topics at its minutes."""
    chosen = [item for item in items if made.slot(item.key)]
    minutes = {slot.key: slot.minutes for slot in made.slots}
    found = []
    for line in permutations(chosen):
        starts = _starts(line, minutes, frame)
        if starts is not None:
            ends = {line[0].key: line[0], line[-1].key: line[-1]} if line else {}
            cost = cost_of(_sketch(line, starts, minutes), items)
            found.append((sum(item.sensitive for item in ends.values()), cost))
    return min(found)


def _small(shape: str, seed: int) -> tuple[list[Item], Frame]:
    items, frame = draw(shape, seed, 5)
    small = [
        replace(
            item,
            wanted=(item.wanted + 1) // 2,
            least=max((item.wanted + 1) // 2 - 2, (item.least + 1) // 2),
            start=None if item.start is None else item.start // 2,
            not_before=None if item.not_before is None else item.not_before // 2,
            by=None if item.by is None else item.by // 2,
        )
        for item in items
    ]
    return small, Frame(13 + seed % 4, opening=seed % 3, slack=Fraction(seed % 2, 2), floors=frame.floors)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("seed", range(12))
def test_no_other_choice_is_worth_more_and_no_other_order_costs_less(shape: str, seed: int) -> None:
    items, frame = _small(shape, seed)
    made = plan(items, frame)
    best = _best_worth(items, frame)
    if best is None:
        assert made.infeasible or made.relaxed
        return
    assert made.infeasible is None
    assert made.relaxed == ()
    assert made.worth == best
    assert made.set_gap == 0
    if made.slots:
        ends = {made.keys[0], made.keys[-1]}
        sensitive = sum(item.sensitive for item in items if item.key in ends)
        assert (sensitive, made.cost) == _least_cost(items, frame, made)
        assert made.order_gap == 0
