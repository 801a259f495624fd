"""The agenda planner: which topics fit a one-on-one, how long each gets, in which order, and why.

Pure functions over whole minutes: no clock, no database, no randomness. `plan` boxes an agenda, `replan` what
is left of one under way. The same input gives the same answer, in whatever order topics are handed in.
"""

from oneonone.planner.model import FIRST, IF_TIME, IN_TURN, Frame, Item, LeftOut, Plan, Slot
from oneonone.planner.problem import PlannerRefusal
from oneonone.planner.reasons import Reason
from oneonone.planner.replanning import (
    Difference,
    difference,
    let_in,
    next_minute,
    other_start,
    replan,
)
from oneonone.planner.rule import plan
from oneonone.planner.stored import from_json, to_json
from oneonone.planner.worth import Weight, weigh

__all__ = [
    "FIRST",
    "IF_TIME",
    "IN_TURN",
    "Difference",
    "Frame",
    "Item",
    "LeftOut",
    "Plan",
    "PlannerRefusal",
    "Reason",
    "Slot",
    "Weight",
    "difference",
    "from_json",
    "let_in",
    "next_minute",
    "other_start",
    "plan",
    "replan",
    "to_json",
    "weigh",
]
