"""Finding times for many meetings at once: exact, by minimum-cost flow.

Each meeting takes one of the starts that suit it, each start takes one meeting, and each further meeting of a
day costs more than the one before it, so that days fill evenly. Costs that grow with the number on a day are
parallel arcs of growing cost, which keeps the whole a minimum-cost flow: with whole numbers its optimum is
whole, so no meeting is divided. Solved by successive shortest paths with potentials (Edmonds and Karp 1972;
Ahuja, Magnanti, Orlin: Network Flows, 1993, section 9.7; recalled from memory). The potentials of the last
path are a feasible dual, which gives a bound of its own on the cost of any other answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from oneonone.cadence.refusals import CadenceRefusal

FAR = 10**15


@dataclass(frozen=True)
class Placing:
    """For each meeting its start or None, the total cost, and a lower bound of the cost.

    ``gap`` is the cost minus the bound. The method is exact, so it is 0; it is computed to verify that.
    """

    starts: tuple[int | None, ...]
    cost: int
    bound: int

    @property
    def gap(self) -> int:
        return self.cost - self.bound


class _Network:
    """Arcs in pairs: each arc is followed by its reverse, which undoes its flow."""

    def __init__(self, nodes: int) -> None:
        self.out: list[list[int]] = [[] for _ in range(nodes)]
        self.to: list[int] = []
        self.room: list[int] = []
        self.cost: list[int] = []

    def arc(self, tail: int, head: int, cost: int) -> int:
        """An arc for one unit. Returns its place."""
        place = len(self.to)
        self.to += [head, tail]
        self.room += [1, 0]
        self.cost += [cost, -cost]
        self.out[tail].append(place)
        self.out[head].append(place + 1)
        return place

    def push(self, source: int, sink: int, potential: list[int]) -> None:
        """Send one unit along a cheapest path and update the potentials, so that no arc with capacity left
        has a negative reduced cost.
        """
        distance = [FAR] * len(self.out)
        came: list[int] = [-1] * len(self.out)
        distance[source] = 0
        heap = [(0, source)]
        settled: list[int] = []
        done = [False] * len(self.out)
        while heap:
            far, node = heappop(heap)
            if done[node]:
                continue
            done[node] = True
            settled.append(node)
            if node == sink:
                break
            base = far + potential[node]
            for place in self.out[node]:
                head = self.to[place]
                if self.room[place] and not done[head]:
                    reached = base + self.cost[place] - potential[head]
                    if reached < distance[head]:
                        distance[head], came[head] = reached, place
                        heappush(heap, (reached, head))
        # Nodes beyond the sink count as far as the sink: enough for their arcs to stay non-negative.
        for node in settled:
            potential[node] += distance[node] - distance[sink]
        node = sink
        while node != source:
            place = came[node]
            self.room[place] -= 1
            self.room[place ^ 1] += 1
            node = self.to[place ^ 1]

    def bound(self, source: int, sink: int, units: int, potential: Sequence[int]) -> int:
        """Return the value of the dual at the potentials: a lower bound for the cost of a flow of that many
        units.
        """
        saved = 0
        for place in range(0, len(self.to), 2):
            tail, head = self.to[place ^ 1], self.to[place]
            saved += max(0, potential[head] - potential[tail] - self.cost[place])
        return units * (potential[sink] - potential[source]) - saved


def place_meetings(
    costs: Sequence[Mapping[int, int]], days: Sequence[int], *, crowding: int, unplaced: int
) -> Placing:
    """The cheapest way to give each meeting a start of its own.

    ``costs`` has for each meeting the starts that suit it, with their costs; ``days`` the day of each start.
    The second meeting on a day costs ``crowding``, the third twice that, and so on. A meeting without a start
    costs ``unplaced``. All are whole numbers from 0; a start that does not exist is refused.
    """
    _check(costs, days, crowding, unplaced)
    order = sorted(set(days))
    first_start, first_day = 2 + len(costs), 2 + len(costs) + len(days)
    network = _Network(first_day + len(order))
    source, sink = 0, 1
    chosen: list[list[tuple[int, int]]] = []
    for meeting, starts in enumerate(costs):
        network.arc(source, 2 + meeting, 0)
        chosen.append(
            [(network.arc(2 + meeting, first_start + start, c), start) for start, c in starts.items()]
        )
        network.arc(2 + meeting, sink, unplaced)
    on_day = dict.fromkeys(order, 0)
    place_of = {day: first_day + place for place, day in enumerate(order)}
    for start, day in enumerate(days):
        network.arc(first_start + start, place_of[day], 0)
        network.arc(place_of[day], sink, on_day[day] * crowding)
        on_day[day] += 1
    potential = [0] * len(network.out)
    for _ in costs:
        network.push(source, sink, potential)
    found = tuple(next((start for place, start in arcs if not network.room[place]), None) for arcs in chosen)
    cost = cost_of(found, costs, days, crowding=crowding, unplaced=unplaced)
    return Placing(found, cost, network.bound(source, sink, len(costs), potential))


def cost_of(
    starts: Sequence[int | None],
    costs: Sequence[Mapping[int, int]],
    days: Sequence[int],
    *,
    crowding: int,
    unplaced: int,
) -> int:
    """Return the cost of an answer, computed from the answer itself."""
    total = 0
    on_day: dict[int, int] = {}
    for start, suits in zip(starts, costs, strict=True):
        if start is None:
            total += unplaced
            continue
        already = on_day.get(days[start], 0)
        total += suits[start] + already * crowding
        on_day[days[start]] = already + 1
    return total


def _check(costs: Sequence[Mapping[int, int]], days: Sequence[int], crowding: int, unplaced: int) -> None:
    if crowding < 0:
        raise CadenceRefusal("crowding", "a whole number from 0", crowding)
    if unplaced < 0:
        raise CadenceRefusal("unplaced", "a whole number from 0", unplaced)
    for starts in costs:
        for start, cost in starts.items():
            if not 0 <= start < len(days):
                raise CadenceRefusal("start", f"0 to {len(days) - 1}", start)
            if cost < 0:
                raise CadenceRefusal("cost", "a whole number from 0", cost)
