"""The hard rules of a plan, written down once more for the tests."""

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from oneonone.planner import Frame, Item, Plan


def worth_of(plan: Plan, items: Sequence[Item], beta: Fraction) -> Fraction:
    """Worth from the slots: beta at the least useful minutes, all of it at those wanted, even between."""
    total = Fraction(0)
    for item in items:
        slot = plan.slot(item.key)
        if slot is None:
            continue
        span = item.wanted - item.least
        part = 1 if not span else beta + (1 - beta) * Fraction(slot.minutes - item.least, span)
        total += item.worth * part
    return total


def cost_of(plan: Plan, items: Sequence[Item], mu: int = 0, issued: Sequence[str] = ()) -> int:
    """Worth times end, and mu for each pair the other way round than issued."""
    worth = {item.key: item.worth for item in items}
    place = {key: n for n, key in enumerate(issued)}
    line = [place[key] for key in plan.keys if key in place]
    turned = sum(b < a for n, a in enumerate(line) for b in line[n + 1 :])
    return sum(worth[slot.key] * slot.end for slot in plan.slots) + mu * turned


def assert_keeps_rules(plan: Plan, items: Sequence[Item], frame: Frame) -> None:
    """No overlap, within the room, closing untouched, lengths, must-discuss, `after`, times, hand, floors."""
    by_key = {item.key: item for item in items}
    lifted = {key for one in plan.relaxed if one.code == "slot_lifted" for key in one.keys}
    assert sorted([*plan.keys, *(out.key for out in plan.left_out)]) == sorted(by_key)
    clock = frame.opening
    for slot in plan.slots:
        item = by_key[slot.key]
        assert clock <= slot.start
        clock = slot.end
        assert item.least <= slot.minutes <= item.wanted
        for key in item.after:
            ahead = plan.slot(key)
            assert ahead is not None
            assert ahead.end <= slot.start
        if slot.key not in lifted:
            assert item.start in (None, slot.start)
            assert item.not_before is None or item.not_before <= slot.start
            assert item.by is None or slot.end <= item.by
    assert clock <= max(frame.opening, frame.minutes - frame.closing)
    free = frame.minutes - frame.opening - frame.closing - ceil(frame.slack)
    assert sum(slot.minutes for slot in plan.slots) <= max(0, free)
    ranked = [key for key in frame.order if key in plan.keys]
    assert ranked == [key for key in plan.keys if key in ranked]
    if plan.infeasible is None:
        assert all(plan.slot(item.key) for item in items if item.must)
    if not any(one.code == "floor_short" for one in plan.relaxed):
        assert_keeps_floors(plan, items, frame)


def assert_keeps_floors(plan: Plan, items: Sequence[Item], frame: Frame) -> None:
    """Each side has its share of the minutes discussed, or all it asked for."""
    side = {item.key: item.side for item in items}
    discussed = sum(slot.minutes for slot in plan.slots)
    for name, share in (frame.floors or {}).items():
        mine = sum(slot.minutes for slot in plan.slots if side[slot.key] == name)
        asked = sum(item.wanted for item in items if item.side == name)
        assert mine >= asked or mine >= share * discussed
