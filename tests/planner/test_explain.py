"""Accounts come from solving again, at most twice, and say what really changes."""

from dataclasses import replace

import pytest

from oneonone.planner import (
    Frame,
    Item,
    cost_of_order,
    cost_of_start,
    difference,
    plan,
    why_in,
    why_out,
)
from oneonone.planner.refusals import UnknownKey

BERTH = Item("berth two", "manager", 10, 10, 12)
RADIO = Item("radio procedure", "report", 10, 10, 9)
FENDERS = Item("fenders", "report", 10, 10, 5)
ITEMS = [BERTH, RADIO, FENDERS]
FRAME = Frame(20)
STANDING = plan(ITEMS, FRAME)


def test_what_leaves_if_a_topic_comes_in() -> None:
    account = why_out(ITEMS, FRAME, "fenders")
    assert account.difference is not None
    assert account.difference.pushed_out == ("radio procedure",)
    assert account.difference.pushed_out_worth == 9
    assert account.difference.worth == -4
    assert "pushes out radio procedure" in str(account.difference)
    assert account.solves == 2


def test_what_is_lost_without_a_topic() -> None:
    account = why_in(ITEMS, FRAME, "berth two", STANDING)
    assert account.solves == 1
    assert account.difference is not None
    assert account.difference.brought_in == ("fenders",)
    assert account.difference.worth == -7


def test_a_topic_that_a_must_discuss_topic_requires_cannot_be_weighed_out() -> None:
    items = [BERTH, replace(RADIO, must=True, after=("berth two",)), FENDERS]
    assert why_in(items, FRAME, "berth two").difference is None


def test_what_requires_a_topic_goes_with_it() -> None:
    items = [BERTH, replace(RADIO, after=("berth two",)), FENDERS]
    account = why_in(items, FRAME, "berth two")
    assert account.changed.keys == ("fenders",)


def test_a_topic_that_can_never_fit_is_told_by_its_shortage() -> None:
    items = [*ITEMS, Item("rewiring", None, 30, 25, 3)]
    account = why_out(items, FRAME, "rewiring")
    assert account.difference is None
    assert account.changed.shortage is not None
    assert account.changed.shortage.number("over") == 5


def test_an_order_by_hand_costs_places_and_no_worth() -> None:
    account = cost_of_order(ITEMS, FRAME, ["radio procedure", "berth two"], STANDING)
    assert account.difference is not None
    assert account.difference.moved == 1
    assert account.difference.worth == 0
    assert account.changed.cost > STANDING.cost


def test_a_start_by_hand_says_what_it_pushes_out() -> None:
    account = cost_of_start(ITEMS, FRAME, "fenders", 5, STANDING)
    assert account.difference is not None
    assert account.difference.pushed_out == ("berth two", "radio procedure")
    assert account.difference.brought_in == ("fenders",)


def test_lengths_that_change_are_told_in_minutes() -> None:
    items = [replace(BERTH, least=5), replace(RADIO, least=5), replace(FENDERS, least=5)]
    full = plan(items, Frame(30))
    order = ("berth two", "radio procedure", "fenders")
    account = difference(full, plan(items, Frame(22, order=order)), items)
    assert account.trimmed == (("radio procedure", 3), ("fenders", 5))
    assert str(account) == "trims radio procedure by 3 and fenders by 5"
    assert str(difference(full, full, items)) == "changes nothing"


def test_an_unknown_topic_is_refused() -> None:
    with pytest.raises(UnknownKey):
        why_out(ITEMS, FRAME, "harbour dues")
