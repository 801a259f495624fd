"""A plan as plain data and back, so that it can be stored with its reasons."""

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from oneonone.planner.model import LeftOut, Plan, Slot
from oneonone.planner.reasons import Number, Reason


def to_json(plan: Plan) -> dict[str, Any]:
    """The plan in dictionaries, lists, strings and integers; fractions are written "7/10"."""
    return {
        "slots": [
            {
                "key": slot.key,
                "start": slot.start,
                "end": slot.end,
                "reason": _reason(slot.reason),
                "length": _reason(slot.length),
            }
            for slot in plan.slots
        ],
        "left_out": [{"key": out.key, "reason": _reason(out.reason)} for out in plan.left_out],
        "worth": str(plan.worth),
        "cost": plan.cost,
        "set_gap": str(plan.set_gap),
        "order_gap": str(plan.order_gap),
        "relaxed": [_reason(each) for each in plan.relaxed],
        "infeasible": plan.infeasible,
        "shortage": None if plan.shortage is None else _reason(plan.shortage),
        "ways_out": [_reason(each) for each in plan.ways_out],
    }


def from_json(stored: Mapping[str, Any]) -> Plan:
    """The plan that ``to_json`` wrote down, equal to it. KeyError for what it did not write."""
    shortage = stored["shortage"]
    return Plan(
        slots=tuple(
            Slot(slot["key"], slot["start"], slot["end"], _read(slot["reason"]), _read(slot["length"]))
            for slot in stored["slots"]
        ),
        left_out=tuple(LeftOut(out["key"], _read(out["reason"])) for out in stored["left_out"]),
        worth=Fraction(stored["worth"]),
        cost=stored["cost"],
        set_gap=Fraction(stored["set_gap"]),
        order_gap=Fraction(stored["order_gap"]),
        relaxed=tuple(_read(each) for each in stored["relaxed"]),
        infeasible=stored["infeasible"],
        shortage=None if shortage is None else _read(shortage),
        ways_out=tuple(_read(each) for each in stored["ways_out"]),
    )


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "code": reason.code,
        "numbers": [[name, _number(number)] for name, number in reason.numbers],
        "keys": list(reason.keys),
    }


def _number(number: Number) -> int | str:
    return number if isinstance(number, int) else str(number)


def _read(stored: Mapping[str, Any]) -> Reason:
    numbers = tuple(
        (name, number if isinstance(number, int) else Fraction(number)) for name, number in stored["numbers"]
    )
    return Reason(stored["code"], numbers, tuple(stored["keys"]))
