"""A plan survives being stored."""

import json
from fractions import Fraction

from oneonone.planner import Frame, Item, from_json, plan, to_json


def test_a_plan_comes_back_equal_from_json_text() -> None:
    items = [
        Item("a", "manager", 10, 5, 9),
        Item("b", "report", 15, 8, 20, must=True),
        Item("c", "report", 20, 10, 3, after=("a",)),
        Item("d", None, 30, 25, 4),
    ]
    made = plan(items, Frame(minutes=40, opening=4, closing=4, beta=Fraction(2, 3)))
    assert made.left_out
    assert from_json(json.loads(json.dumps(to_json(made)))) == made


def test_an_infeasible_plan_keeps_its_shortage_and_ways_out() -> None:
    items = [Item("a", "manager", 30, 20, 9, must=True), Item("b", "report", 30, 20, 9, must=True)]
    made = plan(items, Frame(minutes=30))
    assert made.infeasible
    assert made.ways_out
    assert from_json(json.loads(json.dumps(to_json(made)))) == made
