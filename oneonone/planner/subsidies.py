"""Worth lent to a predecessor by the topics that need it, so that the forest tables see its use.

The tables follow one predecessor of each topic. For every other one a topic pays a subsidy, and the
predecessor receives it: whenever both are in, or both out, or only the predecessor is in, the sum is no less
than the true worth, so any subsidies leave an upper bound. Good ones are a greatest flow from topics that
earn more than their minutes cost to predecessors that earn less (the dual of the closure problem: Picard,
Management Science 22, 1976).
"""

from collections import deque
from collections.abc import Sequence
from itertools import pairwise

from oneonone.planner.problem import Problem
from oneonone.planner.tables import Walk

Flow = dict[tuple[int, int], int]


def subsidised(problem: Problem, path: Walk, price: int) -> list[tuple[int, ...]]:
    """The gains of every topic after paying and receiving, when a minute is worth `price`."""
    surplus = [
        max(worth - price * minutes for minutes, worth in enumerate(gain, item.least))
        for gain, item in zip(problem.gain, problem.items, strict=True)
    ]
    flow = _greatest_flow(problem, surplus)
    shift = [0] * problem.size
    for (payer, receiver), worth in flow.items():
        if path.parent[payer] != receiver:
            shift[payer] -= worth
            shift[receiver] += worth
    return [tuple(worth + shift[i] for worth in gain) for i, gain in enumerate(problem.gain)]


def _greatest_flow(problem: Problem, surplus: Sequence[int]) -> Flow:
    """Surplus sent along `after` to topics that lack it, by shortest paths (Edmonds & Karp, 1972)."""
    ahead = problem.direct
    flow: Flow = {}
    left = list(surplus)
    for payer in sorted(range(problem.size), key=lambda i: (-surplus[i], i)):
        while left[payer] > 0:
            route = _route(ahead, flow, left, payer)
            if route is None:
                break
            worth = min(left[payer], -left[route[-1]], *_limits(flow, route))
            left[payer] -= worth
            left[route[-1]] += worth
            for one, other in pairwise(route):
                if (other, one) in flow:
                    flow[other, one] -= worth
                    if not flow[other, one]:
                        del flow[other, one]
                else:
                    flow[one, other] = flow.get((one, other), 0) + worth
    return flow


def _route(ahead: Sequence[Sequence[int]], flow: Flow, left: Sequence[int], payer: int) -> list[int] | None:
    came: dict[int, int] = {payer: payer}
    waiting = deque([payer])
    while waiting:
        one = waiting.popleft()
        if left[one] < 0:
            route = [one]
            while route[-1] != payer:
                route.append(came[route[-1]])
            return route[::-1]
        back = [other for other, to in flow if to == one]
        for other in (*ahead[one], *sorted(back)):
            if other not in came:
                came[other] = one
                waiting.append(other)
    return None


def _limits(flow: Flow, route: Sequence[int]) -> list[int]:
    return [flow[b, a] for a, b in pairwise(route) if (b, a) in flow]
