"""Parts of an order that can be settled one after another: Sidney's decomposition.

Among all sets that hold what their members have to follow, one of the greatest worth a minute can come first
as a whole; then the same holds for what is left (Sidney, Operations Research 23, 1975). Whether a set of
greater worth a minute exists is a question of what topics can pay for those they have to follow (the closure
problem: Picard, Management Science 22, 1976), asked again from each answer (Dinkelbach, Management Science
13, 1967).
"""

from collections.abc import Mapping, Sequence

from oneonone.planner.pairs import Pairs
from oneonone.planner.problem import bits

Flow = dict[tuple[int, int], int]
"""What a topic pays for another that it has to follow."""


def modules(table: Pairs, members: int, ahead: Mapping[int, int]) -> list[int]:
    """The parts of some positions in order; `ahead[a]` are the members that a has to follow, directly or not.

    Valid where a pair costs the minutes of the first times the worth of the second, and nothing else.
    """
    found, left = [], members
    while left:
        part = _densest(table, left, ahead)
        found.append(part)
        left &= ~part
    return found


def _densest(table: Pairs, left: int, ahead: Mapping[int, int]) -> int:
    """A set of the greatest worth a minute that can come first."""
    part = left
    while True:
        topics = bits(part)
        worth, minutes = sum(table.worth[a] for a in topics), sum(table.minutes[a] for a in topics)
        surplus = {a: table.worth[a] * minutes - table.minutes[a] * worth for a in bits(left)}
        better = _closure(surplus, ahead)
        if not better:
            return part
        part = better


def _closure(surplus: Mapping[int, int], ahead: Mapping[int, int]) -> int:
    """The set of greatest total surplus, with all that its members follow; nothing if that is not above 0."""
    left = dict(surplus)
    flow: Flow = {}
    closure = 0
    for payer in surplus:
        while left[payer] > 0:
            route, reached = _route(left, flow, ahead, payer)
            if route is None:
                for one in reached:
                    closure |= 1 << one | ahead[one]
                break
            _pay(left, flow, route)
    return closure & sum(1 << a for a in surplus)


def _route(
    left: Mapping[int, int], flow: Flow, ahead: Mapping[int, int], payer: int
) -> tuple[list[int] | None, list[int]]:
    """A way to one that lacks something, by payers and receivers in turn; and the payers reached."""
    came: dict[int, int] = {}
    through: dict[int, int] = {}
    payers = [payer]
    for one in payers:
        for other in bits(ahead[one]):
            if other not in left or other in came:
                continue
            came[other] = one
            if left[other] < 0:
                return _back(came, through, payer, other), payers
            for before, to in flow:
                if to == other and before not in payers:
                    through[before] = other
                    payers.append(before)
    return None, payers


def _back(came: Mapping[int, int], through: Mapping[int, int], payer: int, last: int) -> list[int]:
    """The way from the payer to the last receiver."""
    route = [last, came[last]]
    while route[-1] != payer:
        receiver = through[route[-1]]
        route += [receiver, came[receiver]]
    return route[::-1]


def _pay(left: dict[int, int], flow: Flow, route: Sequence[int]) -> None:
    """Send as much as can be along a way."""
    back = [(route[k + 1], route[k]) for k in range(1, len(route) - 1, 2)]
    worth = min(left[route[0]], -left[route[-1]], *(flow[pair] for pair in back))
    left[route[0]] -= worth
    left[route[-1]] += worth
    for k in range(0, len(route) - 1, 2):
        pair = route[k], route[k + 1]
        flow[pair] = flow.get(pair, 0) + worth
    for pair in back:
        flow[pair] -= worth
        if not flow[pair]:
            del flow[pair]
