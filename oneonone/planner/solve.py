"""From topics and a frame to a boxed order: check, choose, order, and say why."""

from collections.abc import Sequence
from fractions import Fraction

from oneonone.planner.accounts import left_out_reasons, slots_with_reasons
from oneonone.planner.checks import check
from oneonone.planner.choose import Choice, choose
from oneonone.planner.model import Frame, Item, LeftOut, Plan
from oneonone.planner.order import Sequencing, sequence
from oneonone.planner.problem import Problem, read
from oneonone.planner.reasons import reason
from oneonone.planner.shortage import shortage


def plan(items: Sequence[Item], frame: Frame, previous: Plan | None = None) -> Plan:
    """The boxed order of greatest worth; `previous` is the order issued, if there is one.

    Levels, each fixed before the next: every hard rule (else a stated relaxation, or `infeasible`); most
    worth, counting kappa for each topic kept; fewest sensitive topics first or last; least worth times the
    minute each is over, counting mu for each pair that changed places; the static order. Raises
    `PlannerRefusal`, a ValueError, for input that cannot be read.
    """
    check(items, frame)
    problem = read(items, frame, previous.keys if previous else ())
    choice = choose(problem, frame.room)
    if choice is None:
        return _infeasible(problem)
    return _issued(problem, choice, sequence(problem, choice.minutes))


def _issued(problem: Problem, choice: Choice, order: Sequencing) -> Plan:
    starts, clock = [], problem.frame.opening
    for i in order.line:
        starts.append(clock)
        clock += choice.minutes[i]
    kept = sum(problem.keep[i] for i in order.line)
    return Plan(
        slots=slots_with_reasons(problem, order.line, starts, choice.minutes),
        left_out=left_out_reasons(problem, choice.minutes),
        worth=Fraction(choice.value - kept, problem.scale),
        cost=order.cost,
        set_gap=_gap(choice.bound - choice.value, choice.value),
        order_gap=_gap(order.cost - order.bound, order.bound),
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
    return Fraction(distance, base) if distance else Fraction(0)
