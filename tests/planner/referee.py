"""CP-SAT as the referee: the same rules written a second time, for a solver that shares no code."""

from collections.abc import Sequence
from fractions import Fraction
from math import lcm
from typing import Any

from ortools.sat.python import cp_model

from oneonone.planner import Frame, Item

Model = Any


class Referee:
    """The best worth of an agenda, and the least cost of an order, each as an exact number."""

    def __init__(self, items: Sequence[Item], frame: Frame, seconds: float = 30.0) -> None:
        self.items = list(items)
        self.frame = frame
        self.seconds = seconds

    def best_worth(self, issued: Sequence[str] = ()) -> Fraction | None:
        """The greatest worth (with kappa for topics in `issued`), or None when nothing is feasible."""
        model, scale = self._worth_model(issued)
        solver = self._solved(model)
        return None if solver is None else Fraction(round(solver.objective_value), scale)

    def least_missing(self, side: str, kept: Sequence[str]) -> Fraction:
        """The fewest minutes by which a side can miss its floor while those of `kept` are met in full."""
        model, _, sizes = self._lean_model(kept)
        share = Fraction((self.frame.floors or {})[side])
        mine = sum(sizes[item.key] for item in self.items if item.side == side)
        asked = sum(item.wanted for item in self.items if item.side == side)
        missing = model.new_int_var(0, share.denominator * asked, "missing")
        everything = model.new_bool_var("measured by all it asked")
        due = share.numerator * sum(sizes.values())
        model.add(missing >= share.denominator * (asked - mine)).only_enforce_if(everything)
        model.add(missing >= due - share.denominator * mine).only_enforce_if(~everything)
        model.minimize(missing)
        solver = self._solved(model)
        assert solver is not None
        return Fraction(round(solver.objective_value), share.denominator)

    def worth_between(self) -> tuple[Fraction, Fraction]:
        """The worth found and the bound reached within the seconds given; equal if it finished."""
        model, scale = self._worth_model(())
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = self.seconds
        if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            raise TimeoutError("the referee found nothing")
        bound = Fraction(round(solver.best_objective_bound), scale)
        return Fraction(round(solver.objective_value), scale), bound

    def _worth_model(self, issued: Sequence[str]) -> tuple[Model, int]:
        timed = any(
            item.start is not None or item.not_before is not None or item.by is not None
            for item in self.items
        )
        model, chosen, sizes = self._model()[:3] if timed else self._lean_model()
        beta = Fraction(self.frame.beta)
        scale = beta.denominator * lcm(*(max(1, i.wanted - i.least) for i in self.items))
        terms: list[Any] = []
        for item in self.items:
            span = max(1, item.wanted - item.least)
            base = item.worth * (beta if item.wanted > item.least else 1)
            step = item.worth * (1 - beta) / span if item.wanted > item.least else Fraction(0)
            keep = self.frame.kappa if item.key in issued else 0
            first = int((base + keep - step * item.least) * scale)
            terms.append(first * chosen[item.key] + int(step * scale) * sizes[item.key])
        model.maximize(sum(terms))
        return model, scale

    def least_cost(self, minutes: dict[str, int], issued: Sequence[str] = ()) -> int | None:
        """The least cost of an order of these topics at exactly these minutes, sensitive ones apart."""
        model, chosen, sizes, starts, ends = self._model(floors=False)
        keys = sorted(minutes)
        for item in self.items:
            model.add(chosen[item.key] == (item.key in minutes))
            if item.key in minutes:
                model.add(sizes[item.key] == minutes[item.key])
        worth = {item.key: item.worth for item in self.items}
        cost = sum(worth[key] * ends[key] for key in keys)
        ranked = [key for key in issued if key in minutes]
        for place, one in enumerate(ranked):
            for other in ranked[place + 1 :]:
                turned = model.new_bool_var(f"{one} after {other}")
                model.add(starts[one] >= ends[other]).only_enforce_if(turned)
                model.add(starts[other] >= ends[one]).only_enforce_if(~turned)
                cost += self.frame.mu * turned
        model.minimize(cost)
        solver = self._solved(model)
        return None if solver is None else round(solver.objective_value)

    def _solved(self, model: Model) -> Any | None:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.max_time_in_seconds = self.seconds
        status = solver.solve(model)
        if status == cp_model.INFEASIBLE:
            return None
        if status != cp_model.OPTIMAL:
            raise TimeoutError("the referee did not finish")
        return solver

    def _model(
        self, floors: bool = True
    ) -> tuple[Model, dict[str, Any], dict[str, Any], dict[str, Any], dict[str, Any]]:
        model, frame = cp_model.CpModel(), self.frame
        chosen, starts, sizes, ends, boxes = {}, {}, {}, {}, []
        for item in self.items:
            key = item.key
            chosen[key] = model.new_bool_var(key)
            starts[key] = model.new_int_var(frame.opening, max(frame.opening, frame.end), f"{key} start")
            ends[key] = model.new_int_var(frame.opening, max(frame.opening, frame.end), f"{key} end")
            sizes[key] = model.new_int_var(0, item.wanted, f"{key} minutes")
            boxes.append(
                model.new_optional_interval_var(starts[key], sizes[key], ends[key], chosen[key], f"{key} box")
            )
            self._lengths(model, item, chosen[key], sizes[key])
            self._times(model, item, chosen[key], starts[key], ends[key])
        model.add_no_overlap(boxes)
        model.add(sum(sizes.values()) <= frame.room)
        for item in self.items:
            for ahead in item.after:
                model.add_implication(chosen[item.key], chosen[ahead])
                model.add(starts[item.key] >= ends[ahead]).only_enforce_if(chosen[item.key])
        ranked = [key for key in frame.order if key in chosen]
        for place, one in enumerate(ranked):
            for other in ranked[place + 1 :]:
                model.add(starts[other] >= ends[one]).only_enforce_if(chosen[one], chosen[other])
        if floors:
            self._floors(model, sizes)
        return model, chosen, sizes, starts, ends

    def _lean_model(
        self, sides: Sequence[str] = ("manager", "report")
    ) -> tuple[Model, dict[str, Any], dict[str, Any]]:
        """The same without starts and intervals, enough where no topic has a time; floors of these sides."""
        model = cp_model.CpModel()
        chosen = {item.key: model.new_bool_var(item.key) for item in self.items}
        sizes = {item.key: model.new_int_var(0, item.wanted, f"{item.key} minutes") for item in self.items}
        for item in self.items:
            self._lengths(model, item, chosen[item.key], sizes[item.key])
            for ahead in item.after:
                model.add_implication(chosen[item.key], chosen[ahead])
        model.add(sum(sizes.values()) <= self.frame.room)
        self._floors(model, sizes, sides)
        return model, chosen, sizes

    @staticmethod
    def _lengths(model: Model, item: Item, chosen: Any, size: Any) -> None:
        model.add(size >= item.least).only_enforce_if(chosen)
        model.add(size == 0).only_enforce_if(~chosen)
        if item.must:
            model.add(chosen == 1)

    @staticmethod
    def _times(model: Model, item: Item, chosen: Any, start: Any, end: Any) -> None:
        if item.start is not None:
            model.add(start == item.start).only_enforce_if(chosen)
        if item.not_before is not None:
            model.add(start >= item.not_before).only_enforce_if(chosen)
        if item.by is not None:
            model.add(end <= item.by).only_enforce_if(chosen)

    def _floors(
        self, model: Model, sizes: dict[str, Any], sides: Sequence[str] = ("manager", "report")
    ) -> None:
        discussed = sum(sizes.values())
        for side, share in (self.frame.floors or {}).items():
            if side not in sides:
                continue
            mine = [item for item in self.items if item.side == side]
            minutes = sum(sizes[item.key] for item in mine)
            asked = sum(item.wanted for item in mine)
            share = Fraction(share)
            everything = model.new_bool_var(f"{side} has all it asked")
            model.add(minutes >= asked).only_enforce_if(everything)
            model.add(share.denominator * minutes >= share.numerator * discussed).only_enforce_if(~everything)
