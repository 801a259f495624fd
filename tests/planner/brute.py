"""The rule written a second time, for agendas small enough to try every set, placing and order.

Shares no code with the planner. It follows the steps as they are told in `reference/planner.md`.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import combinations, permutations

from oneonone.planner import Frame, Item

Sizes = Callable[[Item], int]


def least(item: Item) -> int:
    return item.least


def keep(item: Item) -> int:
    return max(item.least, (4 * item.wanted + 4) // 5)


def wanted(item: Item) -> int:
    return item.wanted


@dataclass
class Brute:
    """What is in (`minutes`, `gap`), settled step by step by `solve`."""

    items: Sequence[Item]
    frame: Frame
    minutes: dict[str, int] = field(default_factory=dict)
    gap: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.static = sorted(self.items, key=lambda item: (item.tiebreak, item.key))
        self.by_key = {item.key: item for item in self.static}
        self.end = self.frame.minutes - self.frame.closing
        self.pairs = self._pairs()
        self.edges: list[tuple[int, int, str | None]] = []

    def needs(self, keys: Iterable[str]) -> set[str]:
        """These and all they need."""
        found, waiting = set[str](), list(keys)
        while waiting:
            key = waiting.pop()
            if key in self.by_key and key not in found:
                found.add(key)
                waiting.extend(self.by_key[key].after)
        return found

    def _pairs(self) -> list[tuple[str, str]]:
        arrows = {(key, item.key) for item in self.static for key in item.after if key in self.by_key}

        def reaches(one: str, other: str) -> bool:
            seen, waiting = set[str](), [one]
            while waiting:
                key = waiting.pop()
                if key == other:
                    return True
                if key not in seen:
                    seen.add(key)
                    waiting.extend(b for a, b in arrows if a == key)
            return False

        kept = []
        line = [key for key in self.frame.order if key in self.by_key]
        for place, later in enumerate(line):
            for earlier in line[:place][::-1]:
                a, b = self.by_key[earlier].start, self.by_key[later].start
                if (a is not None and b is not None and a > b) or reaches(later, earlier):
                    continue
                arrows.add((earlier, later))
                kept.append((earlier, later))
        return kept

    # sets

    def sets(self, pool: Sequence[Item], barred: set[str]) -> list[set[str]]:
        """The closed sets that the pool allows, best first."""
        out = [item for item in self.static if item.key not in self.minutes and item.key not in barred]
        pooled = {item.key for item in pool}
        found = []
        for size in range(len(out) + 1):
            for some in combinations(out, size):
                keys = {item.key for item in some}
                own = {key for key in keys if key in pooled}
                if self.needs(keys) - self.minutes.keys() == keys == self.needs(own) - self.minutes.keys():
                    found.append(keys)
        return found

    def best(self, sets: Iterable[set[str]], size: Sizes, fits: Callable[[set[str]], bool]) -> set[str]:
        def value(keys: set[str]) -> tuple[int, int, tuple[bool, ...]]:
            some = [self.by_key[key] for key in keys]
            return (
                sum(item.worth for item in some),
                -sum(size(item) for item in some),
                tuple(item.key in keys for item in self.static),
            )

        return next(keys for keys in sorted(sets, key=value, reverse=True) if fits(keys))

    def chosen(self, pool: Sequence[Item], size: Sizes) -> set[str]:
        """The best set that can be placed in the gaps as settled."""
        barred = {item.key for item in self.static if item.start is not None} - self.minutes.keys()

        def fits(keys: set[str]) -> bool:
            return any(True for _ in self.placings(keys, size, self.gap, self.minutes, self.edges, ()))

        return self.best(self.sets(pool, barred), size, fits)

    def chosen_at_starts(self, pool: Sequence[Item], inside: set[str]) -> set[str]:
        """The best set at its least minutes where the agreed ones of it cut the gaps."""
        self.minutes = dict.fromkeys(inside, 0)
        found = self.best(self.sets(pool, set()), least, lambda keys: self.starts_fit(keys | inside))
        self.minutes = {}
        return found

    # gaps

    def cut(self, agreed: Iterable[str]) -> list[tuple[int, int, str | None]] | None:
        """Gaps as first minute, last minute and agreed topic, None where starts cannot be kept."""
        line = sorted(agreed, key=lambda key: self.by_key[key].start or 0)
        heads = [(self.frame.opening, None), *((self.by_key[key].start or 0, key) for key in line)]
        edges = []
        for (start, key), stop in zip(heads, [*(s for s, _ in heads[1:]), self.end], strict=True):
            taken = self.by_key[key].least if key else 0
            if start < self.frame.opening or start + taken > stop:
                return None
            edges.append((start, stop, key))
        return edges

    def placings(
        self,
        keys: Iterable[str],
        size: Sizes,
        gap: dict[str, int],
        minutes: dict[str, int],
        edges: Sequence[tuple[int, int, str | None]],
        pairs: Sequence[tuple[str, str]],
    ) -> Iterator[dict[str, int]]:
        """Every way to give these topics gaps beside those that have one."""
        line = sorted(keys, key=lambda key: -size(self.by_key[key]))

        def fill(at: dict[str, int], rest: Sequence[str]) -> Iterator[dict[str, int]]:
            if not self.holds(at, edges, pairs):
                return
            if not rest:
                yield at
                return
            for g, (start, stop, _) in enumerate(edges):
                inside = [key for key, b in at.items() if b == g]
                used = sum(minutes.get(key, size(self.by_key[key])) for key in inside)
                if used + size(self.by_key[rest[0]]) <= stop - start:
                    yield from fill({**at, rest[0]: g}, rest[1:])

        yield from fill(gap, line)

    def holds(
        self,
        at: dict[str, int],
        edges: Sequence[tuple[int, int, str | None]],
        pairs: Sequence[tuple[str, str]],
    ) -> bool:
        """Whether nothing stands in a later gap than what comes after it."""
        heads = {head for _, _, head in edges}
        needs = [(a, item.key) for item in self.static for a in item.after]
        return not any(
            at[one] > at[other] or (at[one] == at[other] and other in heads)
            for one, other in [*needs, *pairs]
            if one in at and other in at
        )

    def starts_fit(self, keys: set[str]) -> bool:
        agreed = {key for key in keys if self.by_key[key].start is not None}
        edges = self.cut(agreed)
        if edges is None:
            return False
        heads = {head: g for g, (_, _, head) in enumerate(edges) if head is not None}
        minutes = {key: self.by_key[key].least for key in heads}
        return any(True for _ in self.placings(keys - agreed, least, heads, minutes, edges, ()))

    def place(self, keys: set[str], size: Sizes, later: set[str] = frozenset()) -> None:  # type: ignore[assignment]
        """Settle the gaps of a chosen set, `later` only having to fit."""
        for pairs in (self.pairs, ()):
            ways = list(self.placings(keys | later, size, self.gap, self.minutes, self.edges, pairs))
            if ways:
                break
        best = min(ways, key=lambda at: self.cost({k: g for k, g in at.items() if k not in later}, keys))
        for key in keys:
            self.gap[key] = best[key]
            self.minutes[key] = size(self.by_key[key])

    def cost(self, at: dict[str, int], new: set[str]) -> tuple[int, int, tuple[int, ...]]:
        missing = price = 0
        for g, (start, stop, head) in enumerate(self.edges):
            inside = [key for key, b in at.items() if b == g]
            missing += max(0, sum(keep(self.by_key[key]) for key in inside) - (stop - start))
            first = start + (self.minutes[head] if head else 0)
            price += sum(self.by_key[key].worth * first for key in inside if key in new)
        return missing, price, tuple(at[item.key] for item in self.static if item.key in new)

    def lengthen(self, keys: Iterable[str], target: Sizes) -> None:
        some = [self.by_key[key] for key in keys]
        while True:
            free = [stop - start for start, stop, _ in self.edges]
            for key, g in self.gap.items():
                free[g] -= self.minutes[key]
            can = [i for i in some if self.minutes[i.key] < target(i) and free[self.gap[i.key]] > 0]
            if not can:
                return
            pick = min(
                can,
                key=lambda i: (Fraction(self.minutes[i.key], target(i)), -i.worth, i.tiebreak, i.key),
            )
            self.minutes[pick.key] += 1

    # steps

    def solve(self) -> "Brute":
        static = self.static
        timed = {item.key for item in static if item.start is not None}
        musts = self.chosen_at_starts([i for i in static if i.must], set())
        self.musts = self.needs(item.key for item in static if item.must)
        agreed = self.chosen_at_starts([i for i in static if i.start is not None], musts)
        edges = self.cut(timed & (musts | agreed))
        assert edges is not None
        self.edges = edges
        for g, (_, _, head) in enumerate(edges):
            if head is not None:
                self.gap[head], self.minutes[head] = g, self.by_key[head].least
        self.place(musts - timed, least, agreed - timed)
        self.place(agreed - timed, least)
        self.step([i for i in static if i.must or i.rank == 0], least)
        self.lengthen(list(self.minutes), keep)
        self.step([i for i in static if i.by_hand], least)
        self.lengthen(list(self.minutes), keep)
        for rank in (1, 2):
            ranked = [i for i in static if i.rank == rank and not i.must]
            self.step(ranked, keep)
            self.step(ranked, least)
            self.lengthen(list(self.minutes), keep)
        groups = {key: self.group(key) for key in self.minutes}
        for group in (0, 1, 2):
            self.lengthen([key for key in groups if groups[key] == group], wanted)
        self.slots = self.ordered()
        return self

    def step(self, pool: Sequence[Item], size: Sizes) -> None:
        self.place(self.chosen(pool, size), size)

    def rank(self, key: str) -> int:
        needing = [self.by_key[other] for other in self.minutes if key in self.needs([other])]
        return min(0 if item.must else item.rank for item in needing)

    def group(self, key: str) -> int:
        needing = [self.by_key[other] for other in self.minutes if key in self.needs([other])]
        if self.rank(key) and any(item.by_hand or item.start is not None for item in needing):
            return 1
        return self.rank(key)

    def ordered(self) -> list[tuple[str, int, int]]:
        ranks = {key: self.rank(key) for key in self.minutes}
        lines: list[list[str]] = []
        for g, (start, _, head) in enumerate(self.edges):
            inside = {key for key, at in self.gap.items() if at == g and key != head}
            best = self.order_of_gap(inside, start + (self.minutes[head] if head else 0), ranks)
            lines.append([head, *best] if head else best)
        self.swap(lines, ranks)
        slots = []
        for (start, _, _), line in zip(self.edges, lines, strict=True):
            clock = start
            for key in line:
                slots.append((key, clock, clock + self.minutes[key]))
                clock += self.minutes[key]
        return slots

    def order_of_gap(self, inside: set[str], start: int, ranks: dict[str, int]) -> list[str]:
        place = {item.key: n for n, item in enumerate(self.static)}

        def cost(line: Iterable[str]) -> tuple[tuple[int, int, int], list[int]]:
            return self.cost_of_order([*line], start, ranks), [place[key] for key in line]

        return list(min((line for line in permutations(inside) if self.allowed(line)), key=cost))

    def cost_of_order(self, line: Sequence[str], start: int, ranks: dict[str, int]) -> tuple[int, int, int]:
        clock, sums = start, [0, 0, 0]
        for key in line:
            clock += self.minutes[key]
            sums[ranks[key]] += self.by_key[key].worth * clock
        return sums[0], sums[1], sums[2]

    def allowed(self, line: Sequence[str]) -> bool:
        heads = {head for _, _, head in self.edges}
        place = {key: n for n, key in enumerate(line)}
        needs = [(a, item.key) for item in self.static for a in item.after]
        return not any(
            one in place and other in place and place[one] > place[other]
            for one, other in [*needs, *((a, b) for a, b in self.pairs if b not in heads)]
        )

    def swap(self, lines: list[list[str]], ranks: dict[str, int]) -> None:
        heads = {head for _, _, head in self.edges}
        for opens in (True, False):
            whole = [key for line in lines for key in line]
            if not whole:
                return
            key, other_end = (whole[0], whole[-1]) if opens else (whole[-1], whole[0])
            if not self.by_key[key].sensitive or key in heads:
                continue
            line = next(line for line in lines if key in line)
            at = line.index(key)
            fit = [
                (abs(n - at), n)
                for n, one in enumerate(line)
                if ranks[one] == ranks[key]
                and not self.by_key[one].sensitive
                and one not in heads
                and one not in (key, other_end)
            ]
            if fit:
                n = min(fit)[1]
                new = list(line)
                new[at], new[n] = new[n], new[at]
                if self.allowed(new):
                    line[:] = new

    @property
    def worth(self) -> tuple[int, int, int]:
        sums = [0, 0, 0]
        for key in self.minutes:
            sums[self.rank(key)] += self.by_key[key].worth
        return sums[0], sums[1], sums[2]

    @property
    def given_up(self) -> set[tuple[str, str]]:
        line = [key for key, _, _ in self.slots]
        order = [key for key in self.frame.order if key in line]
        return {(a, b) for n, a in enumerate(order) for b in order[n + 1 :] if line.index(b) < line.index(a)}
