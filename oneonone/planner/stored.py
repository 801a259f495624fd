"""Plans as plain JSON values and back, so that an issued order is stored with its reasons.

Fractions are texts such as "7/10"; unknown fields are refused. `from_json(to_json(plan)) == plan`.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from oneonone.planner.model import LeftOut, Plan, Slot
from oneonone.planner.reasons import ENGLISH, Number, Reason
from oneonone.planner.refusals import OutOfRange

Json = dict[str, Any]


def to_json(plan: Plan) -> Json:
    """The plan as dictionaries, lists, texts and whole numbers."""
    return {
        "slots": [
            {
                "key": slot.key,
                "start": slot.start,
                "end": slot.end,
                "reason": reason_to_json(slot.reason),
                "length": reason_to_json(slot.length),
            }
            for slot in plan.slots
        ],
        "left_out": [{"key": out.key, "reason": reason_to_json(out.reason)} for out in plan.left_out],
        "worth": str(plan.worth),
        "cost": plan.cost,
        "set_gap": str(plan.set_gap),
        "order_gap": str(plan.order_gap),
        "relaxed": [reason_to_json(one) for one in plan.relaxed],
        "infeasible": plan.infeasible,
        "shortage": None if plan.shortage is None else reason_to_json(plan.shortage),
        "ways_out": [reason_to_json(one) for one in plan.ways_out],
    }


def from_json(stored: Mapping[str, Any]) -> Plan:
    """The plan that was stored. Raises `OutOfRange`, a ValueError, for anything `to_json` does not write."""
    try:
        return Plan(
            slots=tuple(
                Slot(
                    str(slot["key"]),
                    _minute(slot["start"]),
                    _minute(slot["end"]),
                    reason_from_json(slot["reason"]),
                    reason_from_json(slot["length"]),
                )
                for slot in stored["slots"]
            ),
            left_out=tuple(
                LeftOut(str(out["key"]), reason_from_json(out["reason"])) for out in stored["left_out"]
            ),
            worth=Fraction(stored["worth"]),
            cost=_minute(stored["cost"]),
            set_gap=Fraction(stored["set_gap"]),
            order_gap=Fraction(stored["order_gap"]),
            relaxed=_reasons(stored["relaxed"]),
            infeasible=stored["infeasible"],
            shortage=None if stored["shortage"] is None else reason_from_json(stored["shortage"]),
            ways_out=_reasons(stored["ways_out"]),
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise OutOfRange("plan", "a plan as it was stored") from fault


def reason_to_json(reason: Reason) -> Json:
    """A reason as plain values; fractions become texts."""
    numbers = [[name, n if isinstance(n, int) else str(n)] for name, n in reason.numbers]
    return {"code": reason.code, "numbers": numbers, "keys": list(reason.keys)}


def reason_from_json(stored: Mapping[str, Any]) -> Reason:
    """The reason that was stored; a code that is not documented is refused."""
    code = stored["code"]
    if code not in ENGLISH:
        raise OutOfRange("code", "a code of the planner's reasons")
    numbers = tuple((str(name), _number(value)) for name, value in stored["numbers"])
    return Reason(code, numbers, tuple(str(key) for key in stored["keys"]))


def _reasons(stored: Sequence[Mapping[str, Any]]) -> tuple[Reason, ...]:
    return tuple(reason_from_json(one) for one in stored)


def _number(value: int | str) -> Number:
    return value if isinstance(value, int) else Fraction(value)


def _minute(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise OutOfRange("minutes", "a whole number")
    return value
