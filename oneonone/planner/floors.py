"""Air floors: a side has at least its share of the minutes discussed, or all the minutes it asked for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from oneonone.planner.problem import Problem, bits


@dataclass(frozen=True, slots=True)
class Floor:
    """own x minutes of `members` - others x minutes of all other topics + short >= 0, in whole numbers.

    A share a/b is (b - a) x minutes of the side - a x minutes of the rest >= 0; `short` is b times the
    minutes by which it may fall short once it has been relaxed.
    """

    side: str
    members: int
    own: int
    others: int
    short: int = 0

    def weight(self, i: int) -> int:
        """What a minute of that topic adds to the balance."""
        return self.own if self.members >> i & 1 else -self.others

    def balance(self, minutes: Sequence[int] | Mapping[int, int]) -> int:
        """Below zero when the floor is not kept."""
        pairs = minutes.items() if isinstance(minutes, Mapping) else enumerate(minutes)
        return self.short + sum(self.weight(i) * d for i, d in pairs)


def floors_of(problem: Problem) -> list[Floor]:
    """The floors both sides set, as rules in whole numbers; a share of nothing is no rule."""
    found = []
    for side, given in sorted((problem.frame.floors or {}).items()):
        share = Fraction(given)
        if share and asked(problem, side):
            found.append(
                Floor(side, members(problem, side), share.denominator - share.numerator, share.numerator)
            )
    return found


def members(problem: Problem, side: str) -> int:
    """The topics of a side."""
    return sum(1 << i for i, item in enumerate(problem.items) if item.side == side)


def asked(problem: Problem, side: str) -> int:
    """All the minutes a side asked for."""
    return sum(problem.items[i].wanted for i in bits(members(problem, side)))


def shortfall(problem: Problem, floor: Floor, minutes: Mapping[int, int]) -> Fraction:
    """The minutes by which a side falls short of the smaller of its share and all it asked for."""
    discussed = sum(minutes.values())
    mine = sum(d for i, d in minutes.items() if floor.members >> i & 1)
    share = Fraction(floor.others, floor.own + floor.others)
    return max(Fraction(0), min(share * discussed, Fraction(asked(problem, floor.side))) - mine)


def ways(problem: Problem, floors: Sequence[Floor], room: int) -> list[tuple[Problem, list[Floor]]]:
    """The ways to keep the floors: each side by its share, or by having all it asked for in full.

    The second is a way of its own only where the share of a full room would be more than the side asked.
    """
    found = [(problem, list[Floor]())]
    for floor in floors:
        both = [(one, [*kept, floor]) for one, kept in found]
        total = asked(problem, floor.side)
        if total * (floor.own + floor.others) < floor.others * room and total <= room:
            both += [(in_full(one, floor.members), kept) for one, kept in found]
        found = both
    return found


def in_full(problem: Problem, chosen: int) -> Problem:
    """The same problem with these topics in, at all the minutes wanted."""
    must = problem.must | chosen
    for i in bits(chosen):
        must |= problem.before[i]
    items, gain = list(problem.items), list(problem.gain)
    latest = list(problem.latest)
    for i in bits(chosen):
        items[i] = replace(items[i], least=items[i].wanted)
        gain[i] = gain[i][-1:]
        if items[i].start is None:
            latest[i] = problem.over[i] - items[i].wanted
        elif problem.latest[i] + items[i].wanted > problem.over[i]:
            latest[i] = -1
    return replace(
        problem,
        items=tuple(items),
        gain=tuple(gain),
        slope=tuple(0 if chosen >> i & 1 else s for i, s in enumerate(problem.slope)),
        must=must,
        latest=tuple(latest),
    )
