"""Whether given topics can be placed at their times, and at which lengths they then earn most.

Lengths that are best when times do not bind are the start: at the worth p of the last minute given, any
other length loses, and so does every idle minute beyond those that are free anyway. Depth first from the
opening, smallest loss first, each (minute, set, minutes used) once.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from oneonone.planner.floors import Floor
from oneonone.planner.problem import Problem, bits
from oneonone.planner.times import Times
from oneonone.planner.timetable import Timetable, Used

STEPS = 4_000
"""Placements tried for one set; a set given up is one that was not shown to fit."""


def in_sequence(problem: Problem, minutes: Mapping[int, int]) -> tuple[Used, ...]:
    """Topics that no time binds, one after another as the rules demand, else in the static order."""
    waiting, t, used = sorted(minutes), 0, list[Used]()
    while waiting:
        i = next(i for i in waiting if not any(problem.goes_first(j, i) for j in waiting))
        waiting.remove(i)
        used.append((i, t, minutes[i]))
        t += minutes[i]
    return tuple(used)


@dataclass(slots=True)
class State:
    """Placed up to minute `t`: topics left, minutes used, loss, balance of each floor, last if movable."""

    t: int
    left: int
    used: int
    loss: int
    balance: tuple[int, ...]
    movable: int
    line: tuple[Used, ...]


@dataclass
class Fit:
    """One set of topics; `minutes` are their best lengths when only the room binds.

    With `prices` the problem counts a minute's weight in each floor at that price (see `floors`). With
    `partial` any lengths will do, and others will be placed between them.
    """

    problem: Problem
    times: Times
    room: int
    floors: Sequence[Floor]
    minutes: Mapping[int, int]
    prices: Sequence[int] = ()
    partial: bool = False
    most_steps: int = STEPS
    steps: int = 0
    ended: bool = True
    limit: int = 0
    line: tuple[Used, ...] | None = None
    seen: dict[tuple[int, ...], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        problem, minutes = self.problem, self.minutes
        self.idle = self.times.span - sum(minutes.values())
        self.prices = self.prices or [0] * len(self.floors)
        short = sum(price * floor.short for price, floor in zip(self.prices, self.floors, strict=True))
        self.value = sum(problem.worth(i, d) for i, d in minutes.items()) + short
        self.most = {i: problem.items[i].least + len(problem.gain[i]) - 1 for i in minutes}
        if self.partial:
            self.most = {i: problem.items[i].least for i in minutes}
        self.price = 0 if self.partial else self._price()
        slope, least = problem.slope, [item.least for item in problem.items]
        self.best = {i: problem.worth(i, d) - self.price * d for i, d in minutes.items()}
        self.low = {i: self.most[i] if slope[i] > self.price else least[i] for i in minutes}
        self.high = {i: self.most[i] if slope[i] >= self.price else least[i] for i in minutes}

    def _price(self) -> int:
        """The worth of a minute at which no other lengths would earn more."""
        slope = self.problem.slope
        stretched = [slope[i] for i, d in self.minutes.items() if d > self.problem.items[i].least]
        short = [slope[i] for i, d in self.minutes.items() if d < self.most[i]]
        return max(0, min(stretched) if stretched else max(short, default=0))

    def better_than(self, known: int) -> Timetable | None:
        """The best timetable of these topics if worth more than `known`; `ended` tells whether it is sure."""
        members = sum(1 << i for i in self.minutes)
        if self.value <= known or members & self.times.dead:
            return None
        if not self.floors and not members & ~self.times.free:
            return Timetable(in_sequence(self.problem, self.minutes), self.value)
        self.limit = 1 if self.partial else self.value - known
        start = tuple(floor.short for floor in self.floors)
        self._place(State(0, members, 0, 0, start, -1, ()))
        return None if self.line is None else Timetable(self.line, self.value - self.limit)

    def _place(self, state: State) -> None:
        if not state.left:
            self._arrive(state)
            return
        key = (state.t, state.left, state.used, *state.balance)
        if self.seen.get(key, state.loss + 1) <= state.loss:
            return
        self.seen[key] = state.loss
        waiting = bits(state.left)
        if state.loss + self._loss_to_come(state, waiting) >= self.limit:
            return
        for loss, i, start, d in self._choices(state, waiting):
            if loss >= self.limit:
                return
            if self.steps >= self.most_steps:
                self.ended = False
                return
            self.steps += 1
            balance = tuple(b + f.weight(i) * d for b, f in zip(state.balance, self.floors, strict=True))
            movable = i if self.times.free >> i & 1 else -1
            left, line = state.left & ~(1 << i), (*state.line, (i, start, d))
            self._place(State(start + d, left, state.used + d, loss, balance, movable, line))

    def _arrive(self, state: State) -> None:
        """Keep a placement of all topics if it loses less than the best; idle minutes at the end lose too."""
        waited = max(0, state.t - state.used - self.idle)
        loss = state.loss + self.price * (self.times.span - self.idle - state.used - waited)
        loss += sum(price * spare for price, spare in zip(self.prices, state.balance, strict=True))
        if min(state.balance, default=0) >= 0 and loss < self.limit:
            self.limit, self.line = loss, state.line

    def _choices(self, state: State, waiting: Sequence[int]) -> list[tuple[int, int, int, int]]:
        """(loss so far, topic, start, minutes) of what can come next, least loss first."""
        found, items, times = [], self.problem.items, self.times
        idle = state.t - state.used
        least = sum(items[i].least for i in waiting)
        for i in waiting:
            if not self._may_follow(i, state, waiting):
                continue
            start = max(state.t, times.earliest[i])
            rest = least - items[i].least
            latest = min((times.latest[j] for j in waiting if j != i), default=times.span)
            wait = max(0, idle + start - state.t - self.idle) - max(0, idle - self.idle)
            for d, lost in self._lengths(i, start):
                after = start + d
                if after + rest > times.span or after > latest or state.used + d + rest > self.room:
                    break
                loss = state.loss + self.price * wait + lost
                if loss < self.limit:
                    found.append((loss, i, start, d))
        found.sort(key=lambda c: (c[0], times.latest[c[1]], -c[3], c[1]))
        return found

    def _may_follow(self, i: int, state: State, waiting: Sequence[int]) -> bool:
        """Whether what must come first is placed, and placing i here is not a mere change of places."""
        problem, hand = self.problem, self.problem.hand
        if problem.before[i] & state.left:
            return False
        mine = hand[i]
        if mine is not None and any((rank := hand[j]) is not None and rank < mine for j in waiting):
            return False
        if not self.times.free >> i & 1 or state.movable <= i:
            return True
        return problem.goes_first(state.movable, i)

    def _lengths(self, i: int, start: int) -> Iterator[tuple[int, int]]:
        """Every length from that start with what it loses."""
        if start > self.times.latest[i]:
            return
        best, price = self.best[i], self.price
        for d in range(self.problem.items[i].least, min(self.most[i], self.times.over[i] - start) + 1):
            yield d, best - (self.problem.worth(i, d) - price * d)

    def _loss_to_come(self, state: State, waiting: Sequence[int]) -> int:
        """What the topics left must lose at least; the limit if they cannot all be placed."""
        idle = self._forced_idle(state.t, waiting)
        if idle is None:
            return self.limit
        if self.partial:
            return 0
        return self._minutes_loss(state, waiting, idle) + self._floor_loss(state, waiting)

    def _floor_loss(self, state: State, waiting: Sequence[int]) -> int:
        """What the floors cost at least at their prices; the limit if one cannot be kept any more."""
        loss = 0
        for price, floor, balance in zip(self.prices, self.floors, state.balance, strict=True):
            least = most = balance
            for i in waiting:
                weight, short, long = floor.weight(i), self.problem.items[i].least, self.most[i]
                least += weight * (short if weight > 0 else long)
                most += weight * (long if weight > 0 else short)
            if most < 0:
                return self.limit
            loss += price * max(0, least)
        return loss

    def _minutes_loss(self, state: State, waiting: Sequence[int], idle: int) -> int:
        """What lengths and idle minutes must still lose."""
        slope, price = self.problem.slope, self.price
        open_minutes = self.times.span - state.t
        over = idle + sum(self.low[i] for i in waiting) - open_minutes
        if over > 0:
            trims = [slope[i] - price for i in waiting if self.low[i] > self.problem.items[i].least]
            return over * min(trims) if trims else self.limit
        waited = state.t - state.used
        unused = open_minutes - sum(self.high[i] for i in waiting) - max(0, self.idle - waited)
        idle_loss = max(idle - max(0, self.idle - waited), 0) * price
        if unused <= 0:
            return idle_loss
        return max(idle_loss, unused * min([price, *(price - slope[i] for i in waiting if slope[i] < price)]))

    def _forced_idle(self, t: int, waiting: Sequence[int]) -> int | None:
        """Minutes that must stay idle around agreed starts; None if the topics cannot all be placed.

        Topics to be over by some minute, and topics that start after some minute, have to fit there; and
        between agreed starts only sums of lengths can be filled.
        """
        times, items = self.times, self.problem.items
        clock, behind = t, times.span
        for i in sorted(waiting, key=times.over.__getitem__):
            clock += items[i].least
            if clock > times.over[i] or times.latest[i] < t:
                return None
        for i in sorted(waiting, key=times.earliest.__getitem__, reverse=True):
            behind -= items[i].least
            if behind < times.earliest[i]:
                return None
        fixed = sorted((times.latest[i], i) for i in waiting if times.latest[i] == times.earliest[i])
        if self.partial or not fixed:
            return 0
        idle, since, reach = 0, t, 1
        others = [i for i in waiting if times.latest[i] != times.earliest[i]]
        for start, pinned in fixed:
            gap = start - since
            if gap < 0:
                return None
            fillers = [i for i in others if times.earliest[i] < start and times.over[i] > since]
            idle += gap - self._filled(reach, fillers, gap)
            since, reach = start, self._sums(1, pinned, times.span)
            if not reach:
                return None
        return idle

    def _filled(self, reach: int, fillers: Sequence[int], gap: int) -> int:
        """The most minutes up to `gap` that some of the fillers can fill."""
        room = (1 << gap + 1) - 1
        for i in fillers:
            reach = (reach | self._sums(reach, i, gap)) & room
        return (reach & room).bit_length() - 1

    def _sums(self, reach: int, i: int, gap: int) -> int:
        found = 0
        for d in range(self.problem.items[i].least, min(self.most[i], gap) + 1):
            found |= reach << d
        return found
