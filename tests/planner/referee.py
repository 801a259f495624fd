"""CP-SAT as the referee, step by step: the same rule for a solver that shares no code, up to 40 topics.

Sets and placings are solved by CP-SAT; lengths follow their definition; the order of a gap is found by going
through every set of topics that can stand first.
"""

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cache
from typing import Any

from ortools.sat.python import cp_model

from oneonone.planner import Item
from tests.planner.brute import Brute, Sizes, keep, least

Model = Any

MOST_IN_A_GAP = 13
"""Tied topics of one gap whose every order is compared; of more only the rule's own bound is checked."""


class TooMany(Exception):
    """More orders than the referee compares."""


class Referee(Brute):
    """The rule by CP-SAT."""

    def solved(self, model: Model) -> Any:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = 60
        status = solver.solve(model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL:
            raise TimeoutError("the referee did not finish")
        return solver

    def in_or_out(self, model: Model, pool: Sequence[Item], barred: set[str]) -> dict[str, Any]:
        """A variable for each topic that the pool allows, closed under `after`."""
        wanted = {item.key for item in pool if item.key not in self.minutes and item.key not in barred}
        keys = sorted(self.needs(wanted) - self.minutes.keys())
        chosen = {key: model.new_bool_var(key) for key in keys}
        for key in keys:
            for need in self.by_key[key].after:
                if need in self.by_key and need not in self.minutes:
                    model.add_implication(chosen[key], chosen[need])
            if key in barred:
                model.add(chosen[key] == 0)
            if key not in wanted:
                model.add(chosen[key] <= sum(chosen[one] for one in wanted if key in self.needs([one])))
        return chosen

    def best_of(self, model: Model, chosen: dict[str, Any], size: Sizes) -> set[str]:
        """The set of most worth, then fewer minutes, then by the static order."""
        value = sum((self.by_key[k].worth * 4096 - size(self.by_key[k])) * x for k, x in chosen.items())
        model.maximize(value)
        solver = self.solved(model)
        model.add(value == round(solver.objective_value))
        line = [item.key for item in self.static if item.key in chosen]
        model.maximize(sum(chosen[key] * (1 << (len(line) - 1 - n)) for n, key in enumerate(line)))
        solver = self.solved(model)
        return {key for key, x in chosen.items() if solver.value(x)}

    def chosen(self, pool: Sequence[Item], size: Sizes) -> set[str]:
        model = cp_model.CpModel()
        barred = {item.key for item in self.static if item.start is not None} - self.minutes.keys()
        chosen = self.in_or_out(model, pool, barred)
        if not chosen:
            return set()
        self.in_gaps(model, chosen, size, ())
        return self.best_of(model, chosen, size)

    def chosen_at_starts(self, pool: Sequence[Item], inside: set[str]) -> set[str]:
        """Topics as intervals of time: the agreed ones fixed, the others wherever they fit."""
        model = cp_model.CpModel()
        self.minutes = dict.fromkeys(inside, 0)
        chosen = self.in_or_out(model, pool, set())
        self.minutes = {}
        if not chosen:
            return set()
        opening, starts, boxes = self.frame.opening, {}, []
        for key in sorted(chosen.keys() | inside):
            item = self.by_key[key]
            here = chosen.get(key, True)
            starts[key] = model.new_int_var(0, max(self.frame.minutes, 1500), f"{key} start")
            boxes.append(model.new_optional_fixed_size_interval_var(starts[key], item.least, here, key))
            model.add(starts[key] >= opening).only_enforce_if(here)
            model.add(starts[key] + item.least <= self.end).only_enforce_if(here)
            if item.start is not None:
                model.add(starts[key] == item.start).only_enforce_if(here)
        model.add_no_overlap(boxes)
        for key, start in starts.items():
            for need in self.by_key[key].after:
                if need in starts:
                    ahead = starts[need] + self.by_key[need].least
                    model.add(start >= ahead).only_enforce_if(chosen.get(key, True))
        return self.best_of(model, chosen, least)

    def in_gaps(
        self, model: Model, chosen: dict[str, Any], size: Sizes, pairs: Iterable[tuple[str, str]]
    ) -> dict[str, list[Any]]:
        """For each topic the gap it is in, if it is in; no gap overfull, `after` and pairs kept."""
        count = len(self.edges)
        at = {key: [model.new_bool_var(f"{key} in {g}") for g in range(count)] for key in chosen}
        for key, x in chosen.items():
            model.add(sum(at[key]) == x)
        for g, (start, stop, _) in enumerate(self.edges):
            used = sum(self.minutes[key] for key, b in self.gap.items() if b == g)
            new = sum(size(self.by_key[key]) * at[key][g] for key in chosen)
            model.add(new <= stop - start - used)
        heads = {head for _, _, head in self.edges}
        needs = [(need, item.key) for item in self.static for need in item.after]
        for one, other in [*needs, *pairs]:
            if one not in {*at, *self.gap} or other not in {*at, *self.gap}:
                continue
            last = [g for g in range(count) if other in self.gap and self.gap[other] == g]
            for g in range(count):
                if other in at:
                    late = at[other][g]
                elif g in last:
                    late = model.new_constant(1)
                else:
                    continue
                reach = g if other in heads else g + 1
                if one in at:
                    model.add(sum(at[one][:reach]) >= 1).only_enforce_if(late, chosen[one])
                elif self.gap[one] >= reach:
                    model.add_bool_or([late.negated()] if other in at else [])
        return at

    def place(self, keys: set[str], size: Sizes, later: set[str] = frozenset()) -> None:  # type: ignore[assignment]
        if not keys:
            return
        for pairs in (self.pairs, ()):
            model = cp_model.CpModel()
            chosen = {key: model.new_constant(1) for key in sorted(keys | later)}
            at = self.in_gaps(model, chosen, size, pairs)
            missing: list[Any] = []
            price: list[Any] = []
            for g, (start, stop, head) in enumerate(self.edges):
                inside = sum(keep(self.by_key[key]) for key, b in self.gap.items() if b == g)
                new = sum(keep(self.by_key[key]) * at[key][g] for key in keys)
                missing.append(model.new_int_var(0, 100_000, f"missing {g}"))
                model.add(missing[g] >= inside + new - (stop - start))
                first = start + (self.minutes[head] if head else 0)
                price.extend(self.by_key[key].worth * first * at[key][g] for key in keys)
            cost = sum(missing) * 1_000_000 + sum(price)
            model.minimize(cost)
            solver = self.solved(model)
            if solver is not None:
                break
        model.add(cost == round(solver.objective_value))
        line = [item.key for item in self.static if item.key in keys]
        for some in (line[:20], line[20:]):
            base = len(self.edges)
            digits = sum(
                g * base ** (len(some) - 1 - n) * at[key][g]
                for n, key in enumerate(some)
                for g in range(base)
            )
            model.minimize(digits)
            solver = self.solved(model)
            if some is line[20:]:
                break
            model.add(digits == round(solver.objective_value))
        for key in keys:
            self.gap[key] = next(g for g in range(len(self.edges)) if solver.value(at[key][g]))
            self.minutes[key] = size(self.by_key[key])

    def order_of_gap(self, inside: set[str], start: int, ranks: dict[str, int]) -> list[str]:
        """By going through every set that can stand first; without ties by rank and worth a minute."""
        place = {item.key: n for n, item in enumerate(self.static)}
        ties = [(a, item.key) for item in self.static for a in item.after]
        ahead = {key: {a for a, b in [*ties, *self.pairs] if b == key and a in inside} for key in inside}
        if not any(ahead.values()):
            return sorted(
                inside,
                key=lambda k: (ranks[k], Fraction(-self.by_key[k].worth, self.minutes[k]), place[k]),
            )
        if len(inside) > MOST_IN_A_GAP and not self.nearly_in_line(ahead):
            raise TooMany("too many orders to compare")

        @cache
        def rest(done: frozenset[str]) -> tuple[tuple[int, int, int], tuple[int, ...], tuple[str, ...]]:
            """The least cost of what comes after these, counted from the gap's start; the first such line."""
            if len(done) == len(inside):
                return (0, 0, 0), (), ()
            clock = sum(self.minutes[key] for key in done)
            ways = []
            for key in inside - done:
                if ahead[key] <= done:
                    sums, places, line = rest(done | {key})
                    own = [0, 0, 0]
                    own[ranks[key]] = self.by_key[key].worth * (clock + self.minutes[key])
                    total = (sums[0] + own[0], sums[1] + own[1], sums[2] + own[2])
                    ways.append((total, (place[key], *places), (key, *line)))
            return min(ways)

        return list(rest(frozenset())[2])

    @staticmethod
    def nearly_in_line(ahead: dict[str, set[str]]) -> bool:
        """Whether few topics are free to stand anywhere."""
        known = sum(len(some) for some in ahead.values())
        return known * 3 >= len(ahead) * (len(ahead) - 1)
