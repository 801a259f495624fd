"""From topics and a frame to a boxed order: check, choose, order, and say why."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from oneonone.planner.accounts import left_out_reasons, slots_with_reasons
from oneonone.planner.checks import check
from oneonone.planner.choose import choose
from oneonone.planner.model import Frame, Item, LeftOut, Plan
from oneonone.planner.order import sequence
from oneonone.planner.problem import Problem, bits, read
from oneonone.planner.reasons import reason
from oneonone.planner.relax import placed_or_relaxed
from oneonone.planner.shortage import shortage
from oneonone.planner.times import times
from oneonone.planner.timing import Timed, timing


def plan(items: Sequence[Item], frame: Frame, previous: Plan | None = None) -> Plan:
    """The boxed order of greatest worth; `previous` is the order issued, if there is one.

    Levels, each fixed before the next: every hard rule (else a stated relaxation, or `infeasible`); most
    worth, counting kappa for each topic kept; fewest sensitive topics first or last; least worth times the
    minute each is over, counting mu for each pair that changed places; the static order. Raises
    `PlannerRefusal`, a ValueError, for input that cannot be read.
    """
    check(items, frame)
    problem = read(items, frame, previous.keys if previous else ())
    if sum(problem.items[i].least for i in bits(problem.must)) > frame.room:
        return _infeasible(problem)
    if problem.timed or frame.floors:
        problem, placed, relaxed = placed_or_relaxed(problem, previous.keys if previous else ())
        minutes = {i: d for i, _, d in placed.used}
        found = _issued(problem, minutes, placed.value, placed.bound, placed.used)
        return replace(found, relaxed=relaxed)
    choice = choose(problem, frame.room)
    if choice is None:
        return _infeasible(problem)
    return _issued(problem, choice.minutes, choice.value, choice.bound, None)


def _issued(
    problem: Problem,
    minutes: Mapping[int, int],
    value: int,
    bound: int,
    used: Sequence[tuple[int, int, int]] | None,
) -> Plan:
    order = _ordered(problem, minutes, used)
    kept = sum(problem.keep[i] for i in order.line)
    return Plan(
        slots=slots_with_reasons(problem, order.line, order.starts, minutes),
        left_out=left_out_reasons(problem, minutes),
        worth=Fraction(value - kept, problem.scale),
        cost=order.cost,
        set_gap=_gap(bound - value, value),
        order_gap=_gap(order.cost - order.bound, order.bound),
    )


def _ordered(
    problem: Problem, minutes: Mapping[int, int], used: Sequence[tuple[int, int, int]] | None
) -> Timed:
    """The order with starts; times matter only if a chosen topic has one."""
    when = times(problem) if used else None
    if used and when and any(not when.free >> i & 1 for i in minutes):
        return timing(problem, when, used)
    order = sequence(problem, minutes)
    starts, clock = [], problem.frame.opening
    for i in order.line:
        starts.append(clock)
        clock += minutes[i]
    return Timed(order.line, tuple(starts), order.cost, order.bound)


def _infeasible(problem: Problem) -> Plan:
    short, ways_out = shortage(problem)
    return Plan(
        left_out=tuple(LeftOut(item.key, reason("infeasible")) for item in problem.items),
        infeasible=" ".join(str(part) for part in (short, *ways_out)),
        shortage=short,
        ways_out=ways_out,
    )


def _gap(distance: int, base: int) -> Fraction:
    """A gap as a part of what it is a gap to; a gap to nothing is a whole one."""
    return Fraction(distance, base) if distance and base else Fraction(min(1, distance))
