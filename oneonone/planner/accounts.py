"""The reasons stored with an order, each from the constraint that bound (see `reasons` for the codes)."""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from oneonone.planner.floors import floors_of
from oneonone.planner.model import Item, LeftOut, Slot
from oneonone.planner.problem import Problem, bits
from oneonone.planner.reasons import Reason, reason


def slots_with_reasons(
    problem: Problem, line: Sequence[int], starts: Sequence[int], minutes: Mapping[int, int]
) -> tuple[Slot, ...]:
    """The slots of topics in order, with why there and why that long."""
    slots = []
    for place, (i, start) in enumerate(zip(line, starts, strict=True)):
        item = problem.items[i]
        why = _place(problem, line, place, start, minutes)
        slots.append(Slot(item.key, start, start + minutes[i], why, _length(item, minutes[i])))
    return tuple(slots)


def left_out_reasons(
    problem: Problem, minutes: Mapping[int, int], proven: bool = True
) -> tuple[LeftOut, ...]:
    """The topics left out, in the static order, each with the constraint that kept it out."""
    room = problem.frame.room
    free = room - sum(minutes.values())
    chosen = sum([1 << i for i in minutes])
    return tuple(
        [
            LeftOut(item.key, _outside(problem, i, minutes, room, free, chosen, proven))
            for i, item in enumerate(problem.items)
            if i not in minutes
        ]
    )


def _outside(
    problem: Problem, i: int, minutes: Mapping[int, int], room: int, free: int, chosen: int, proven: bool
) -> Reason:
    """The first constraint that shuts a topic out of the plan as it is."""
    item = problem.items[i]
    if item.least > room:
        return reason("too_long", least=item.least, room=room)
    if problem.latest[i] < problem.earliest[i]:
        return reason("slot_outside", least=item.least)
    if missing := problem.before[i] & ~chosen:
        return reason("predecessor", problem.items[bits(missing)[0]].key)
    if item.least > free:
        return reason("no_minutes", least=item.least, free=free)
    for floor in floors_of(problem):
        if floor.balance({**minutes, i: item.least}) < 0:
            return reason("floor", floor.side, share=Fraction(floor.others, floor.own + floor.others))
    if not proven:
        return reason("not_found")
    return reason("no_gap", least=item.least, free=free)


def _length(item: Item, minutes: int) -> Reason:
    if item.asked is not None and item.asked != item.wanted:
        if minutes == item.wanted:
            return reason("history", asked=item.asked, minutes=minutes)
        return reason("history_trimmed", asked=item.asked, wanted=item.wanted, minutes=minutes)
    if minutes == item.wanted:
        return reason("full", minutes=minutes)
    return reason("trimmed", minutes=minutes, wanted=item.wanted)


def _place(
    problem: Problem, line: Sequence[int], place: int, start: int, minutes: Mapping[int, int]
) -> Reason:
    i = line[place]
    item = problem.items[i]
    if item.start is not None and item.start == start:
        return reason("agreed_slot", start=start)
    if len(line) == 1:
        return reason("only")
    tied = _tied(problem, line, place, minutes)
    if tied is not None:
        return tied
    if item.not_before is not None and item.not_before == start:
        return reason("not_before", start=start)
    if place + 1 == len(line):
        return _last(problem, line, minutes)
    behind = line[place + 1]
    mine, theirs = item.worth * minutes[behind], problem.items[behind].worth * minutes[i]
    if mine >= theirs:
        return _denser(item, minutes[i], problem.items[behind], minutes[behind])
    return _against_density(problem, line, place)


def _last(problem: Problem, line: Sequence[int], minutes: Mapping[int, int]) -> Reason:
    """Why a topic comes last: the one ahead is worth as much a minute, or something else put it there."""
    i, ahead = line[-1], line[-2]
    items = problem.items
    if items[ahead].worth * minutes[i] >= items[i].worth * minutes[ahead]:
        return reason("last")
    if items[ahead].sensitive and not items[i].sensitive:
        return reason("for_sensitive", items[ahead].key)
    if _was_before(problem, ahead, i):
        return reason("kept_after", items[ahead].key)
    return reason("best_found")


def _was_before(problem: Problem, one: int, other: int) -> bool:
    """Whether one stood before the other in the order issued, and changing that has a price."""
    first, second = problem.issued[one], problem.issued[other]
    return bool(problem.frame.mu) and first is not None and second is not None and first < second


def _tied(problem: Problem, line: Sequence[int], place: int, minutes: Mapping[int, int]) -> Reason | None:
    """The order by hand or `after`, where a neighbour would otherwise change places with this topic."""
    i = line[place]
    items = problem.items
    if place:
        ahead = line[place - 1]
        if items[i].worth * minutes[ahead] > items[ahead].worth * minutes[i]:
            if problem.before[i] >> ahead & 1:
                return reason("after", items[ahead].key)
            if problem.goes_first(ahead, i):
                return reason("by_hand", items[ahead].key)
    if place + 1 < len(line):
        behind = line[place + 1]
        if items[behind].worth * minutes[i] > items[i].worth * minutes[behind]:
            if problem.before[behind] >> i & 1:
                return reason("before", items[behind].key)
            if problem.goes_first(i, behind):
                return reason("by_hand", items[behind].key)
    return None


def _against_density(problem: Problem, line: Sequence[int], place: int) -> Reason:
    """Why a topic stands before one that matters more a minute."""
    i, behind = line[place], line[place + 1]
    items = problem.items
    if items[behind].sensitive and place == 0:
        return reason("for_sensitive", items[behind].key)
    if items[i].sensitive and place + 2 == len(line):
        return reason("sensitive")
    if _was_before(problem, i, behind):
        return reason("kept", items[behind].key)
    return reason("best_found")


def _denser(item: Item, minutes: int, behind: Item, next_minutes: int) -> Reason:
    return reason(
        "denser",
        behind.key,
        worth=item.worth,
        minutes=minutes,
        next_worth=behind.worth,
        next_minutes=next_minutes,
    )
