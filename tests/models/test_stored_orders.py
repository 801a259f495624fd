"""Orders that were stored before the order went by rank are read as they were."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import pytest

from oneonone import planner

migration = import_module("oneonone.migrations.0009_order_by_rule")


def reason(code: str, *keys: str, **numbers: int) -> dict[str, Any]:
    return {"code": code, "numbers": [list(one) for one in numbers.items()], "keys": list(keys)}


def stored(place: dict[str, Any], out: dict[str, Any]) -> dict[str, Any]:
    full = reason("full", minutes=5)
    return {
        "slots": [{"key": "a", "start": 4, "end": 9, "reason": place, "length": full}],
        "left_out": [{"key": "b", "reason": out}],
        "worth": "71/5",
        "cost": 90,
        "set_gap": "0",
        "order_gap": "0",
        "relaxed": [reason("slot_lifted", "a")],
        "infeasible": "too long",
        "shortage": reason("must_too_long", "a", needed=60, room=41, over=19),
        "ways_out": [reason("lengthen", minutes=19), reason("use_slack", minutes=3)],
    }


@pytest.mark.parametrize(
    ("before", "now"),
    [
        (reason("agreed_slot", start=4), "agreed"),
        (reason("after", "b"), "after"),
        (reason("by_hand", "b"), "by_hand"),
        (reason("denser", "b", worth=9, minutes=5, next_worth=8, next_minutes=5), "in_turn"),
    ],
)
def test_a_place_is_read_as_it_was_or_as_in_turn(before: dict[str, Any], now: str) -> None:
    plan = planner.from_json(migration.translated(stored(before, reason("not_found"))))
    assert [(slot.key, slot.start, slot.end, slot.reason.code) for slot in plan.slots] == [("a", 4, 9, now)]
    assert plan.infeasible is not None
    assert (plan.infeasible.code, plan.infeasible.number("over")) == ("must_too_long", 19)
    assert [way.code for way in plan.ways_out] == ["lengthen"]


@pytest.mark.parametrize(
    ("before", "now"),
    [
        (reason("no_minutes", least=5, free=2), "no_room"),
        (reason("floor", "report", share=3), "not_found"),
        (reason("predecessor", "a"), "predecessor"),
    ],
)
def test_what_was_left_out_keeps_its_reason_where_there_still_is_one(
    before: dict[str, Any], now: str
) -> None:
    plan = planner.from_json(migration.translated(stored(reason("last"), before)))
    assert [(out.key, out.reason.code) for out in plan.left_out] == [("b", now)]


def test_a_plan_of_now_stays_as_it_is() -> None:
    plan = planner.to_json(planner.Plan())
    assert migration.translated(plan) is plan
