"""The agenda planner: which topics fit a one-on-one, how long each gets, in which order, and why.

Pure functions over whole minutes: no clock, no database, no randomness. `plan` boxes an agenda, `replan` what
is left of one under way. The same input gives the same answer, in whatever order topics are handed in.
"""

from oneonone.planner.model import Frame, Item, LeftOut, Plan, Slot
from oneonone.planner.reasons import Reason
from oneonone.planner.refusals import PlannerRefusal
from oneonone.planner.solve import plan
from oneonone.planner.stored import from_json, to_json
from oneonone.planner.underway import replan
from oneonone.planner.worth import worth

__all__ = [
    "Frame",
    "Item",
    "LeftOut",
    "Plan",
    "PlannerRefusal",
    "Reason",
    "Slot",
    "from_json",
    "plan",
    "replan",
    "to_json",
    "worth",
]
