"""From topics and a frame to a boxed order: check, choose, order, and say why."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from oneonone.planner.accounts import left_out_reasons, slots_with_reasons
from oneonone.planner.checks import check
from oneonone.planner.choose import choose
from oneonone.planner.kept import Kept, kept, sensitive_ends
from oneonone.planner.model import Frame, Item, LeftOut, Plan
from oneonone.planner.order import sequence
from oneonone.planner.problem import Problem, bits, read
from oneonone.planner.reasons import Reason, reason
from oneonone.planner.relax import placed_or_relaxed
from oneonone.planner.shortage import shortage
from oneonone.planner.times import times
from oneonone.planner.timing import Timed, timing

NEAR = Fraction(21, 20)
"""An order not proven best does not move an issued one that costs up to this many times as much."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The first level: minutes by topic, a timetable if times or floors bind, worth, bound, what gave way."""

    minutes: Mapping[int, int]
    used: tuple[tuple[int, int, int], ...] | None
    value: int
    bound: int
    relaxed: tuple[Reason, ...] = ()


def plan(items: Sequence[Item], frame: Frame, previous: Plan | None = None) -> Plan:
    """The boxed order of greatest worth; `previous` is the order issued, if there is one.

    Levels, each fixed before the next: every hard rule (else a stated relaxation, or `infeasible`); most
    worth, counting kappa for each topic kept; fewest sensitive topics first or last; least worth times the
    minute each is over, counting mu for each pair that changed places; the static order. Among choices or
    orders that are equally good the previous one stays, else the static order alone settles which. Raises
    `PlannerRefusal`, a ValueError, for input that cannot be read.
    """
    check(items, frame)
    issued = previous.keys if previous else ()
    problem = read(items, frame, issued)
    if sum(problem.items[i].least for i in bits(problem.must)) > frame.room:
        return _infeasible(problem)
    problem, chosen = _chosen(problem, issued)
    old = kept(problem, previous)
    if old is not None and old.value >= chosen.value:
        chosen = Chosen(old.minutes, old.used, old.value, chosen.bound, chosen.relaxed)
    order = _ordered(problem, chosen)
    if old is not None and old.minutes == chosen.minutes and _stays(problem, old, order):
        opening = frame.opening
        order = Timed(old.line, tuple(opening + s for s in old.starts), old.cost, min(order.bound, old.cost))
    return _issued(problem, chosen, order)


def _chosen(problem: Problem, issued: Sequence[str]) -> tuple[Problem, Chosen]:
    """The choice, and the problem it answers: agreed times may have been lifted."""
    if problem.timed or problem.frame.floors:
        problem, placed, relaxed = placed_or_relaxed(problem, issued)
        return problem, Chosen(placed.minutes or {}, placed.used, placed.value, placed.bound, relaxed)
    choice = choose(problem, problem.frame.room)
    return problem, Chosen(choice.minutes or {}, None, choice.value, choice.bound)


def _ordered(problem: Problem, chosen: Chosen) -> Timed:
    """The order with starts; times matter only if a chosen topic has one."""
    when = times(problem) if chosen.used else None
    if chosen.used and when and any(not when.free >> i & 1 for i in chosen.minutes):
        return timing(problem, when, chosen.used)
    order = sequence(problem, chosen.minutes)
    starts, clock = [], problem.frame.opening
    for i in order.line:
        starts.append(clock)
        clock += chosen.minutes[i]
    return Timed(order.line, tuple(starts), order.cost, order.bound)


def _stays(problem: Problem, old: Kept, order: Timed) -> bool:
    """Whether the issued order is as good, or nearly so and the new one is unproven."""
    mine = sensitive_ends(problem, order.line)
    if (old.ends, old.cost) <= (mine, order.cost):
        return True
    return order.bound < order.cost and old.ends <= mine and old.cost <= order.cost * NEAR


def _issued(problem: Problem, chosen: Chosen, order: Timed) -> Plan:
    held = sum(problem.keep[i] for i in order.line)
    return Plan(
        slots=slots_with_reasons(problem, order.line, order.starts, chosen.minutes),
        left_out=left_out_reasons(problem, chosen.minutes, proven=chosen.bound <= chosen.value),
        worth=Fraction(chosen.value - held, problem.scale),
        cost=order.cost,
        set_gap=_gap(chosen.bound - chosen.value, chosen.value),
        order_gap=_gap(order.cost - order.bound, order.bound),
        relaxed=chosen.relaxed,
    )


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
    return Fraction(distance, base) if distance > 0 and base else Fraction(int(distance > 0))
