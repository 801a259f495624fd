"""A small linear program kept optimal while rules are added and choices are fixed: the dual simplex method.

Lemke (Naval Research Logistics Quarterly 1, 1954), with variables bounded on both sides and the long step of
the ratio test that lets several of them change sides at once (Maros, Computational Techniques of the Simplex
Method, 2003). Bounds of nought and one make every start dual feasible.

Works in binary fractions. Its answers only guide a search: what it says is checked in whole numbers there, so
a rounding can cost time, never truth.
"""

from collections.abc import Mapping, Sequence
from itertools import compress

NEAR = 1e-9
"""Smaller differences are noise."""

PIVOTS = 400
"""Exchanges after which a program is left as it is; its prices are valid all the same."""


class Program:
    """Maximise gain x under rules `row x <= bound`, each x between nought and one.

    `tableau[k]` tells how the basic variable k falls when nonbasic ones rise; variables from `size` on are
    what is left to a rule's bound.
    """

    def __init__(self, gain: Sequence[float]) -> None:
        self.size = len(gain)
        self.low = [0.0] * self.size
        self.high = [1.0] * self.size
        self.value = [1.0 if worth > 0 else 0.0 for worth in gain]
        self.reduced = list(gain)
        self.outside = list(range(self.size))
        self.basic: list[int] = []
        self.tableau: list[list[float]] = []

    def copy(self) -> "Program":
        """The same program, to be changed apart, without rules that leave something and what is fixed.

        A rule left out that would be broken later has to be added again.
        """
        twin = Program.__new__(Program)
        twin.size = self.size
        twin.low, twin.high, twin.value = self.low[:], self.high[:], self.value[:]
        rows = [k for k, j in enumerate(self.basic) if j < self.size]
        loose = [self.high[j] > self.low[j] for j in self.outside]
        twin.basic = [self.basic[k] for k in rows]
        twin.reduced = list(compress(self.reduced, loose))
        twin.outside = list(compress(self.outside, loose))
        twin.tableau = [list(compress(self.tableau[k], loose)) for k in rows]
        return twin

    def add(self, row: Mapping[int, float], bound: float) -> None:
        """One more rule."""
        place = {j: k for k, j in enumerate(self.basic) if j in row}
        new = [row.get(j, 0.0) for j in self.outside]
        for j, k in place.items():
            factor = row[j]
            new = [a - factor * b for a, b in zip(new, self.tableau[k], strict=True)]
        self.basic.append(len(self.value))
        self.value.append(bound - sum([a * self.value[j] for j, a in row.items()]))
        self.low.append(0.0)
        self.high.append(float("inf"))
        self.tableau.append(new)

    def fix(self, j: int, value: float) -> None:
        """Let a variable be nothing but that value."""
        self.low[j] = self.high[j] = value
        if j in self.outside:
            self._shift(self.outside.index(j), value - self.value[j])

    def prices(self) -> dict[int, float]:
        """What one more in the bound of a rule is worth, for the rules that bind."""
        return {
            j - self.size: -worth
            for j, worth in zip(self.outside, self.reduced, strict=True)
            if j >= self.size and worth < -NEAR
        }

    def solve(self) -> dict[int, float] | None:
        """None at the optimum; else weights of rules that together cannot be kept."""
        for _ in range(PIVOTS):
            k = self._worst()
            if k is None:
                return None
            if not self._exchange(k):
                return self._conflict(k)
        return None

    @property
    def solved(self) -> bool:
        """Whether no rule is broken and nothing is out of its bounds."""
        return self._worst() is None

    def _worst(self) -> int | None:
        """The basic variable furthest outside its bounds."""
        low, high, value = self.low, self.high, self.value
        worst, most = None, 1e-7
        for k, j in enumerate(self.basic):
            outside = max(low[j] - value[j], value[j] - high[j])
            if outside > most:
                worst, most = k, outside
        return worst

    def _exchange(self, k: int) -> bool:
        """Bring the basic variable k to its bound; False if nothing can."""
        leaving, row = self.basic[k], self.tableau[k]
        rising = self.value[leaving] < self.low[leaving]
        aim = self.low[leaving] if rising else self.high[leaving]
        missing = abs(aim - self.value[leaving])
        ranked = []
        value, low, high, outside, reduced = self.value, self.low, self.high, self.outside, self.reduced
        for place, a in enumerate(row):
            if a > NEAR or a < -NEAR:
                j = outside[place]
                if high[j] > low[j] and (a < 0) == ((value[j] <= low[j]) == rising):
                    ranked.append((abs(reduced[place] / a), -abs(a), place))
        ranked.sort()
        flips: list[tuple[int, float]] = []
        for _, size, place in ranked:
            j = outside[place]
            span = high[j] - low[j]
            if missing <= -size * span + NEAR:
                self._flip(flips)
                self._shift(place, (value[leaving] - aim) / row[place])
                self._pivot(k, place)
                value[leaving] = aim
                return True
            missing += size * span
            flips.append((place, span if value[j] <= low[j] else -span))
        self._flip(flips)
        return False

    def _shift(self, place: int, change: float) -> None:
        """Move a nonbasic variable, and with it all basic ones."""
        if change:
            value = self.value
            value[self.outside[place]] += change
            for j, row in zip(self.basic, self.tableau, strict=True):
                if row[place]:
                    value[j] -= row[place] * change

    def _flip(self, changes: Sequence[tuple[int, float]]) -> None:
        """Move several of them, each to its other bound."""
        if not changes:
            return
        value, outside = self.value, self.outside
        for place, change in changes:
            value[outside[place]] += change
        for j, row in zip(self.basic, self.tableau, strict=True):
            value[j] -= sum([row[place] * change for place, change in changes])

    def _pivot(self, k: int, place: int) -> None:
        row = self.tableau[k]
        pivot = row[place]
        row = [a / pivot for a in row]
        row[place] = 1 / pivot
        for other, old in enumerate(self.tableau):
            factor = old[place]
            if factor and other != k:
                new = [a - factor * b for a, b in zip(old, row, strict=True)]
                new[place] = -factor / pivot
                self.tableau[other] = new
        self.tableau[k] = row
        worth = self.reduced[place]
        self.reduced = [a - worth * b for a, b in zip(self.reduced, row, strict=True)]
        self.reduced[place] = -worth / pivot
        self.basic[k], self.outside[place] = self.outside[place], self.basic[k]

    def _conflict(self, k: int) -> dict[int, float]:
        leaving = self.basic[k]
        sign = 1.0 if self.value[leaving] < self.low[leaving] else -1.0
        found = {leaving - self.size: 1.0} if leaving >= self.size else {}
        for j, a in zip(self.outside, self.tableau[k], strict=True):
            if j >= self.size and sign * a > NEAR:
                found[j - self.size] = sign * a
        return found
