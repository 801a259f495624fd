"""Between agreed starts: the ways to divide topics among the gaps.

Agreed starts part a meeting into gaps, and a topic stands in one of them. Within a gap, topics that no other
time binds only share its minutes. So gaps are filled one by one, the shortest first, as few sets of topics
fit into it, and the longest takes what is left; a bound gives every minute to the topic where it is worth
most, which is exact for minutes within gaps within the room (Federgruen & Groenevelt, Operations Research 34,
1986).
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE
from oneonone.planner.times import Times

MOST = 1000
"""Ways to fill a gap; if there are more, it and those that are longer are left open."""


@dataclass(frozen=True, slots=True)
class Gap:
    """From an agreed start, that of topic `head`, or the opening if it is None, to the next or the end."""

    place: int
    first: int
    last: int
    head: int | None


class Gaps:
    """The gaps of one set of topics, at prices of the floors."""

    def __init__(
        self,
        problem: Problem,
        times: Times,
        room: int,
        floors: Sequence[Floor],
        members: int,
        prices: Sequence[int],
    ) -> None:
        self.problem, self.times, self.floors, self.members = problem, times, floors, members
        topics = bits(members)
        self.least = {i: problem.items[i].least for i in topics}
        self.more = {i: len(problem.gain[i]) - 1 for i in topics}
        self.spare = room - sum(self.least.values())
        self.gaps = self._gaps(topics)
        self.allowed = {i: self._allowed(i) for i in topics}
        self.slope = {i: problem.slope[i] * FINE for i in topics}
        self.base = sum(problem.gain[i][0] for i in topics) * FINE
        for price, floor in zip(prices, floors, strict=True):
            self.base += price * floor.short
            for i in topics:
                self.slope[i] += price * floor.weight(i)
                self.base += price * floor.weight(i) * self.least[i]
        self.ranked = sorted(topics, key=lambda i: (-self.slope[i], i))

    def _gaps(self, topics: Sequence[int]) -> list[Gap]:
        times = self.times
        pins = sorted((times.earliest[i], i) for i in topics if times.earliest[i] == times.latest[i])
        heads: list[tuple[int, int | None]] = [*pins]
        if not pins or pins[0][0] > 0:
            heads.insert(0, (0, None))
        lasts = [*(first for first, _ in heads[1:]), times.span]
        return [
            Gap(place, first, last, head)
            for place, ((first, head), last) in enumerate(zip(heads, lasts, strict=True))
        ]

    def _allowed(self, i: int) -> int:
        """The gaps in which there is room for the least minutes of a topic, as a set."""
        least, times, mask = self.least, self.times, 0
        for gap in self.gaps:
            if gap.head == i:
                return 1 << gap.place
            begin = gap.first + (least[gap.head] if gap.head is not None else 0)
            if max(times.earliest[i], begin) + least[i] <= min(times.over[i], gap.last):
                mask |= 1 << gap.place
        return mask

    @property
    def settled(self) -> bool:
        """Whether nothing is gained by looking at gaps: no topic has two, or all lengths are given."""
        return not any(mask & mask - 1 for mask in self.allowed.values()) or not any(self.more.values())

    def fillings(self, known: Callable[[], int]) -> Iterator[tuple[int, Times]]:
        """The times of topics in every filling that may be worth more than is known, each with a bound."""
        self.ahead = {
            i: [j for j in self.least if j != i and self.problem.goes_first(j, i)] for i in self.least
        }
        self.twin = self._twins()
        order = sorted(self.gaps, key=lambda gap: (gap.last - gap.first, gap.place))
        yield from self._fill(order, {}, dict(self.allowed), known)

    def _twins(self) -> dict[int, int]:
        """For each topic, the last of those named before it that could change places with it; -1 for none."""
        problem, times = self.problem, self.times
        tied = {j for i in self.least for j in self.ahead[i]} | {i for i in self.least if self.ahead[i]}
        last: dict[tuple[int, ...], int] = {}
        found = dict.fromkeys(self.least, -1)
        for i, least in self.least.items():
            if i not in tied:
                at = times.earliest[i], times.latest[i], times.over[i]
                weights = [floor.weight(i) for floor in self.floors]
                kind = (*at, least, self.more[i], problem.slope[i], *weights)
                found[i] = last.get(kind, -1)
                last[kind] = i
        return found

    def _fill(
        self,
        order: Sequence[Gap],
        placed: Mapping[int, int],
        allowed: Mapping[int, int],
        known: Callable[[], int],
    ) -> Iterator[tuple[int, Times]]:
        """Fill the gaps in `order`; `placed` topics have one, `allowed` tells which ones others can have."""
        if not order:
            yield self._bound(placed, 0), self._within(placed)
            return
        gap, rest = order[0], order[1:]
        remaining = sum(1 << other.place for other in rest)
        contents = self._contents(gap, remaining, allowed)
        if contents is None:
            yield self._bound(placed, remaining | 1 << gap.place), self._within(placed)
            return
        trials = []
        for content in contents:
            now = {**placed, **dict.fromkeys(content, gap.place)}
            left = self._left(now, allowed, remaining)
            if left is not None:
                bound = self._bound(now, remaining)
                if bound > known():
                    trials.append((-bound, content, now, left))
        trials.sort(key=lambda trial: trial[:2])
        for bound, _, now, left in trials:
            if -bound > known():
                yield from self._fill(rest, now, left, known)

    def _contents(self, gap: Gap, remaining: int, allowed: Mapping[int, int]) -> list[tuple[int, ...]] | None:
        """The sets of topics that fit a gap and leave out none that has no other; None if too many."""
        forced = tuple(i for i, mask in allowed.items() if not mask & remaining)
        room = gap.last - gap.first - sum(self.least[i] for i in forced)
        if room < 0:
            return []
        found = [(forced, room)]
        for i, mask in allowed.items():
            least, twin = self.least[i], self.twin[i]
            if mask >> gap.place & 1 and mask & remaining:
                found += [
                    ((*content, i), left - least)
                    for content, left in found
                    if left >= least and (twin not in allowed or twin in content)
                ]
                if len(found) > MOST:
                    return None
        return [content for content, _ in found]

    def _left(
        self, placed: Mapping[int, int], allowed: Mapping[int, int], remaining: int
    ) -> dict[int, int] | None:
        """The gaps that others can still have; None if one has none, or one stands before what it follows."""
        for i, place in placed.items():
            if any(placed.get(j, 0) > place for j in self.ahead[i]):
                return None
        left = {}
        for i, mask in allowed.items():
            if i not in placed:
                left[i] = mask & remaining
                for j, place in placed.items():
                    if j in self.ahead[i]:
                        left[i] &= -1 << place
                    elif i in self.ahead[j]:
                        left[i] &= (2 << place) - 1
                if not left[i]:
                    return None
        return left

    def _bound(self, placed: Mapping[int, int], remaining: int) -> int:
        """The most that any lengths are worth, when gaps that remain to be filled are taken together."""
        spare = [gap.last - gap.first for gap in self.gaps]
        loose, total = (
            sum(minutes for place, minutes in enumerate(spare) if remaining >> place & 1),
            self.spare,
        )
        for i, least in self.least.items():
            if i in placed:
                spare[placed[i]] -= least
            else:
                loose -= least
        if loose < 0:
            return -1
        value = self.base
        for i in self.ranked:
            if self.slope[i] <= 0 or not total:
                break
            place = placed.get(i)
            more = min(self.more[i], total, loose if place is None else spare[place])
            if more:
                value += more * self.slope[i]
                total -= more
                if place is None:
                    loose -= more
                else:
                    spare[place] -= more
        return value // FINE

    def _within(self, placed: Mapping[int, int]) -> Times:
        """The times of topics within their gaps."""
        earliest, latest, over = list(self.times.earliest), list(self.times.latest), list(self.times.over)
        for i, place in placed.items():
            gap = self.gaps[place]
            over[i] = min(over[i], gap.last)
            if gap.head is not None and gap.head != i:
                earliest[i] = max(earliest[i], gap.first + self.least[gap.head])
            latest[i] = min(latest[i], over[i] - self.least[i])
        return replace(self.times, earliest=tuple(earliest), latest=tuple(latest), over=tuple(over))
