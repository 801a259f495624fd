"""Whether given topics can be placed at their times, and at which lengths they then earn most.

At the prices of the rules that bind, some lengths of each topic lose nothing; any other loses, and so does
every idle minute of the room. Depth first from the opening, smallest loss first, each (minute, set, minutes
used) once; first for nothing lost, then for more.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from oneonone.planner.floors import Floor
from oneonone.planner.lengths import allot, allot_kept
from oneonone.planner.problem import Problem, bits
from oneonone.planner.remaining import Remaining, Rest
from oneonone.planner.rules import FINE
from oneonone.planner.times import Times

STEPS = 100_000
"""Placements tried for one set; a set given up is one that was not shown to fit."""

Balance = tuple[int, ...]
"""What is spare in each floor."""

Used = tuple[int, int, int]
"""A topic, its start counted from the opening, and its minutes."""

WIDEN = 400
"""The first reach below the best lengths is this part of their worth; then it grows threefold."""


@dataclass(frozen=True, slots=True)
class Timetable:
    """Topics with starts and minutes in order of time, and their scaled worth."""

    used: tuple[Used, ...]
    value: int


def in_sequence(problem: Problem, minutes: Mapping[int, int]) -> tuple[Used, ...]:
    """Topics that no time binds, one after another as the rules demand, else in the static order."""
    waiting, t, used = sorted(minutes), 0, list[Used]()
    while waiting:
        i = next(i for i in waiting if not any(problem.goes_first(j, i) for j in waiting))
        waiting.remove(i)
        used.append((i, t, minutes[i]))
        t += minutes[i]
    return tuple(used)


@dataclass(frozen=True, slots=True)
class Offer:
    """Prices under which no placement of a set is worth more than `ceiling`, in FINE parts of scaled worth.

    `minute[i]` is what each minute of topic i costs, `idle` what one of the room's minutes costs if nothing
    is discussed in it, `floors` what a minute's weight in the balance of each floor costs.
    """

    ceiling: int
    minute: Sequence[int]
    idle: int
    floors: Sequence[int]


@dataclass
class Fit:
    """One set of topics under an offer. Without one any lengths will do, and others come between them."""

    problem: Problem
    times: Times
    room: int
    floors: Sequence[Floor]
    members: int
    offer: Offer | None
    most_steps: int = STEPS
    steps: int = 0
    ended: bool = True
    limit: int = 0
    cut: bool = False
    line: tuple[Used, ...] | None = None
    seen: dict[tuple[int, ...], int] = field(default_factory=dict)

    def better_than(self, known: int, most_worth: int | None = None) -> Timetable | None:
        """The best timetable of these topics if worth more than `known`.

        `ended` tells whether the answer is sure; if it is and `cut` is false, no lengths could be placed.
        """
        if self.members & self.times.dead:
            return None
        self._prepare()
        most = self.ceiling - known * FINE if self.offer else 1
        start = tuple(floor.short for floor in self.floors)
        reach = FINE
        if most_worth is not None:
            reach += max(0, self.ceiling - most_worth * FINE)
        while self.ended and self.line is None and most > 0:
            self.limit = min(reach, most)
            self.cut = False
            self.seen.clear()
            self._place((0, self.members, 0), (0, 0), start, -1, ())
            if reach >= most or not self.cut:
                break
            reach = max(self.ceiling // WIDEN, reach * 3)
        return None if self.line is None else Timetable(self.line, self._worth(self.line))

    def _prepare(self) -> None:
        """What every length of every topic loses, and what is known of each set still to be placed."""
        problem, offer, topics = self.problem, self.offer, bits(self.members)
        self.span = self.times.span
        self.idle = self.span - self.room
        self.price = offer.idle if offer else 0
        self.prices = offer.floors if offer else [0] * len(self.floors)
        self.ceiling = offer.ceiling if offer else 0
        each = offer.minute if offer else [0] * problem.size
        self.lengths = {i: self._lengths(i, each[i]) for i in topics}
        self.remaining = Remaining(
            problem, self.times, self.floors, topics, self.lengths, self.price, not offer
        )

    def _lengths(self, i: int, price: int) -> list[tuple[int, int]]:
        """Every length of a topic with what it loses against the best one."""
        gain = self.problem.gain[i] if self.offer else self.problem.gain[i][:1]
        least = self.problem.items[i].least
        earned = [worth * FINE - price * d for d, worth in enumerate(gain, least)]
        best = max(earned)
        return [(d, best - worth) for d, worth in enumerate(earned, least)]

    def _worth(self, line: Sequence[Used]) -> int:
        return sum(self.problem.worth(i, d) for i, _, d in line)

    def _place(
        self,
        at: tuple[int, int, int],
        so_far: tuple[int, int],
        balance: Balance,
        movable: int,
        line: tuple[Used, ...],
    ) -> None:
        """Every way to go on from a minute, topics left and minutes used; loss, worth and balances so far.

        Of two ways to the same place the one worth more wins: the loss misses what spans leave unused.
        """
        t, left, used = at
        loss, worth = so_far
        if not left:
            self._arrive(loss, balance, line)
            return
        key = (*at, *balance)
        if self.seen.get(key, worth - 1) >= worth:
            return
        self.seen[key] = worth
        rest = self.remaining.of(left)
        if t > rest.latest:
            return
        if rest.open and self.offer:
            self._close(at, balance, line)
            return
        if loss + self._loss_to_come(t, used, balance, rest) >= self.limit:
            self.cut = True
            return
        free, floors = self.times.free, self.floors
        for more, i, start, d in self._choices(t, used, loss, rest, movable):
            if more >= self.limit:
                self.cut = True
                return
            if self.steps >= self.most_steps:
                self.ended = False
                return
            self.steps += 1
            kept = balance
            if floors:
                kept = tuple(b + f.weight(i) * d for b, f in zip(balance, floors, strict=True))
            last = i if free >> i & 1 else -1
            there = start + d, left & ~(1 << i), used + d
            now = more, worth + self.problem.worth(i, d)
            self._place(there, now, kept, last, (*line, (i, start, d)))

    def _close(self, at: tuple[int, int, int], balance: Balance, line: tuple[Used, ...]) -> None:
        """Place topics that no time binds: one after another, at the best lengths for what is left."""
        t, left, used = at
        topics, room = bits(left), min(self.span - t, self.room - used)
        if sum(self.problem.items[i].least for i in topics) > room:
            return
        minutes: dict[int, int] | None = allot(self.problem, topics, room)
        if self.floors:
            floors = [replace(f, short=b) for f, b in zip(self.floors, balance, strict=True)]
            if sum(floor.balance(minutes or {}) < 0 for floor in floors):
                minutes = allot_kept(self.problem, topics, room, floors)
        if minutes is None:
            return
        tail = tuple((i, t + start, d) for i, start, d in in_sequence(self.problem, minutes))
        self._arrive(0, (), (*line, *tail))

    def _arrive(self, loss: int, balance: Balance, line: tuple[Used, ...]) -> None:
        """Keep a placement of all topics if it truly loses less than the best."""
        if min(balance, default=0) < 0:
            return
        if self.offer:
            loss = self.ceiling - self._worth(line) * FINE
        if loss < self.limit:
            self.limit, self.line = loss, line
        else:
            self.cut = True

    def _choices(
        self, t: int, used: int, loss: int, rest: Rest, movable: int
    ) -> list[tuple[int, int, int, int]]:
        """(loss so far, topic, start, minutes) of what can come next, least loss first."""
        found, times, price, limit = [], self.times, self.price, self.limit
        idle = t - used
        spare = self.room - used
        before = max(0, idle - self.idle)
        for i, others, shut, movable_from in rest.next:
            start = times.earliest[i]
            wait = 0
            if start <= t:
                start = t
            elif price:
                wait = price * (max(0, idle + start - t - self.idle) - before)
            if start > times.latest[i] or (movable > i and movable_from >> movable & 1):
                continue
            most = min(shut - start, spare - others)
            base = loss + wait
            last = self.span if times.free >> i & 1 else times.latest[i]
            for d, lost in self.lengths[i]:
                if d > most:
                    break
                if base + lost < limit:
                    found.append((base + lost, last, i, -d, start))
                else:
                    self.cut = True
        found.sort()
        return [(more, i, start, -d) for more, _, i, d, start in found]

    def _loss_to_come(self, t: int, used: int, balance: Balance, rest: Rest) -> int:
        """What the topics left must lose at least; the limit if they cannot all be placed."""
        if not self.offer:
            return 0
        idle = rest.idle
        if rest.reach:
            gap = rest.first - t
            if gap < 0:
                return self.limit
            idle += gap - (rest.reach & (2 << gap) - 1).bit_length() + 1
        return self._minutes_loss(t, used, rest, idle) + self._floor_loss(balance, rest)

    def _floor_loss(self, balance: Balance, rest: Rest) -> int:
        """What the floors cost at least at their prices; the limit if one cannot be kept any more."""
        loss = 0
        for price, spare, (least, most) in zip(self.prices, balance, rest.balances, strict=True):
            if spare + most < 0:
                return self.limit
            loss += price * max(0, spare + least)
        return loss

    def _minutes_loss(self, t: int, used: int, rest: Rest, idle: int) -> int:
        """What lengths and idle minutes must still lose."""
        open_minutes = self.span - t
        over = rest.low - min(open_minutes - idle, self.room - used)
        if over > 0:
            return over * rest.trim if rest.trim is not None else self.limit
        free = max(0, self.idle - t + used)
        idle_loss = max(idle - free, 0) * self.price
        unused = open_minutes - rest.high - free
        return max(idle_loss, unused * rest.stretch) if unused > 0 else idle_loss
