"""The agenda planner: which topics fit a one-on-one, how long each gets, in which order, and why.

Pure functions over whole minutes: no clock, no database, no randomness. `plan` boxes an agenda, `replan` what
is left of one under way. The same input gives the same answer, in whatever order topics are handed in.
"""

from oneonone.planner.explain import (
    Account,
    Difference,
    cost_of_order,
    cost_of_start,
    difference,
    why_in,
    why_out,
)
from oneonone.planner.model import Frame, Item, LeftOut, Plan, Slot
from oneonone.planner.reasons import Reason
from oneonone.planner.refusals import PlannerRefusal
from oneonone.planner.solve import plan
from oneonone.planner.stored import from_json, to_json
from oneonone.planner.underway import Advice, going_on, replan
from oneonone.planner.worth import worth

__all__ = [
    "Account",
    "Advice",
    "Difference",
    "Frame",
    "Item",
    "LeftOut",
    "Plan",
    "PlannerRefusal",
    "Reason",
    "Slot",
    "cost_of_order",
    "cost_of_start",
    "difference",
    "from_json",
    "going_on",
    "plan",
    "replan",
    "to_json",
    "why_in",
    "why_out",
    "worth",
]
