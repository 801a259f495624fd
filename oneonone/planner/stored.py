"""Plans as plain JSON values and back, so that an issued order is stored with its reasons.

A fraction is a text such as "7/10"; anything `to_json` does not write is refused.
`from_json(to_json(plan)) == plan`.
"""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from oneonone.planner.model import LeftOut, Plan, Slot
from oneonone.planner.problem import PlannerRefusal
from oneonone.planner.reasons import ENGLISH, Reason

Json = dict[str, Any]


def to_json(plan: Plan) -> Json:
    """The plan as dictionaries, lists, texts and whole numbers."""
    return {
        "slots": [_slot_to_json(slot) for slot in plan.slots],
        "left_out": [{"key": one.key, "reason": _reason_to_json(one.reason)} for one in plan.left_out],
        "worth": list(plan.worth),
        "unproven": str(plan.unproven),
        "given_up": [list(pair) for pair in plan.given_up],
        "infeasible": None if plan.infeasible is None else _reason_to_json(plan.infeasible),
        "ways_out": [_reason_to_json(one) for one in plan.ways_out],
    }


def from_json(stored: Mapping[str, Any]) -> Plan:
    """The plan that was stored. Raises `PlannerRefusal` for anything that `to_json` does not write."""
    try:
        first, in_turn, if_time = stored["worth"]
        return Plan(
            slots=tuple(_slot(slot) for slot in stored["slots"]),
            left_out=tuple(LeftOut(str(one["key"]), _reason(one["reason"])) for one in stored["left_out"]),
            worth=(_whole(first), _whole(in_turn), _whole(if_time)),
            unproven=Fraction(stored["unproven"]),
            given_up=tuple((str(one), str(other)) for one, other in stored["given_up"]),
            infeasible=None if stored["infeasible"] is None else _reason(stored["infeasible"]),
            ways_out=tuple(_reason(one) for one in stored["ways_out"]),
        )
    except (KeyError, TypeError, ValueError, ZeroDivisionError) as fault:
        raise PlannerRefusal("plan", "a plan as it was stored") from fault


def _slot_to_json(slot: Slot) -> Json:
    reasons = {"reason": _reason_to_json(slot.reason), "length": _reason_to_json(slot.length)}
    return {"key": slot.key, "start": slot.start, "end": slot.end, **reasons}


def _slot(stored: Mapping[str, Any]) -> Slot:
    start, end = _whole(stored["start"]), _whole(stored["end"])
    return Slot(str(stored["key"]), start, end, _reason(stored["reason"]), _reason(stored["length"]))


def _reason_to_json(reason: Reason) -> Json:
    numbers = [list(pair) for pair in reason.numbers]
    return {"code": reason.code, "numbers": numbers, "keys": list(reason.keys)}


def _reason(stored: Mapping[str, Any]) -> Reason:
    """The reason that was stored; a code that is not documented is refused."""
    code = stored["code"]
    if code not in ENGLISH:
        raise PlannerRefusal("code", "a code of the planner's reasons")
    numbers = tuple((str(name), _whole(value)) for name, value in stored["numbers"])
    return Reason(code, numbers, tuple(str(key) for key in stored["keys"]))


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise PlannerRefusal("minutes", "a whole number")
    return value
