"""What each decision on a topic loses at the prices of the rules, and which decisions a limit leaves open.

With the rules priced, topics fall apart, each with a best decision, and any other loses something against it
(Lagrangian relaxation: Geoffrion, Mathematical Programming Study 2, 1974). What alone would lose as much as
the limit is settled the other way, and most topics are: a core is left (Balas & Zemel, Operations Research
28, 1980).
"""

from collections.abc import Sequence

from oneonone.planner.floors import Floor
from oneonone.planner.prices import Prices
from oneonone.planner.problem import Problem, bits
from oneonone.planner.rules import FINE

NEVER = 1 << 200
"""More than any limit."""

Length = tuple[int, int]
"""What a number of minutes loses against the best one, and the minutes."""


class Losses:
    """Losses in FINE parts of scaled worth. No choice is worth more than `ceiling`.

    A choice loses `enter` and `lengths` of what is in, `leave` of what is out, the price of each need whose
    topic is out while what it needs is in, and what it leaves of the room and the floors at their prices.
    `minute_price[i]` is what a minute of topic i costs, `rise[i]` what a minute more brings beyond that.
    """

    def __init__(self, problem: Problem, room: int, floors: Sequence[Floor], prices: Prices) -> None:
        self.problem, self.room, self.floors, self.prices = problem, room, floors, prices
        self.enter, self.leave = [0] * problem.size, [0] * problem.size
        self.rise = [0] * problem.size
        self.minute_price = [prices.room] * problem.size
        for price, floor in zip(prices.floors, floors, strict=True):
            if price:
                self.minute_price = [m - price * floor.weight(i) for i, m in enumerate(self.minute_price)]
        surplus = [0] * problem.size
        for (i, j), price in prices.needs.items():
            surplus[i] -= price
            surplus[j] += price
        self.ceiling = prices.room * room
        self.ceiling += sum([price * f.short for price, f in zip(prices.floors, floors, strict=True)])
        for i, (gain, item, minute) in enumerate(
            zip(problem.gain, problem.items, self.minute_price, strict=True)
        ):
            best = surplus[i] + gain[0] * FINE - minute * item.least
            if len(gain) > 1:
                rise = self.rise[i] = (gain[1] - gain[0]) * FINE - minute
                if rise > 0:
                    best += rise * (len(gain) - 1)
            if best > 0 or problem.must >> i & 1:
                self.ceiling += best
                self.leave[i] = best
            else:
                self.enter[i] = -best
        self._add_ties()

    def lengths(self, i: int, base: int, limit: int) -> list[Length]:
        """The lengths of a topic that with `base` lose less than a limit, the best one first."""
        least, longer, rise = self.problem.items[i].least, len(self.problem.gain[i]) - 1, self.rise[i]
        if base >= limit:
            return []
        if not longer:
            return [(base, least)]
        steps = range(min(longer, (limit - base - 1) // abs(rise) if rise else longer) + 1)
        if rise > 0:
            return [(base + rise * k, least + longer - k) for k in steps]
        return [(base - rise * k, least + k) for k in steps]

    def _add_ties(self) -> None:
        """What a topic loses at least with what it brings in or takes out: `entering` and `leaving`."""
        problem, enter, leave, needs = self.problem, self.enter, self.leave, self.prices.needs
        self.entering, self.leaving = enter, leave
        self.needed = 0
        if not any(problem.before):
            return
        self.entering, self.leaving = enter[:], leave[:]
        self.after = [0] * problem.size
        through = [0] * problem.size
        for i in problem.upward:
            staying = NEVER if problem.must >> i & 1 else leave[i]
            if not problem.before[i]:
                through[i] = staying
                continue
            for j in bits(problem.before[i]):
                self.after[j] |= 1 << i
                self.needed |= 1 << j
                self.entering[i] += enter[j]
                self.leaving[j] += leave[i]
            for j in problem.direct[i]:
                through[i] = max(through[i], min(needs.get((i, j), 0), through[j]))
            self.leaving[i] += through[i]
            through[i] += staying

    def settled(self, limit: int) -> tuple[int, int]:
        """Topics in, and topics out, of every choice that loses less; if they meet there is none."""
        problem = self.problem
        inside, outside = problem.must, 0
        for i, (entering, leaving) in enumerate(zip(self.entering, self.leaving, strict=True)):
            if entering >= limit:
                outside |= 1 << i
            elif leaving >= limit:
                inside |= 1 << i
        if self.needed:
            for i in bits(inside):
                inside |= problem.before[i]
            for i in bits(outside & self.needed):
                outside |= self.after[i]
        return inside, outside
