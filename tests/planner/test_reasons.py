"""Each reason states the constraint that bound."""

from dataclasses import replace
from fractions import Fraction

import pytest

from oneonone.planner import Frame, Item, Plan, plan
from oneonone.planner import reasons as reasons_module
from oneonone.planner.reasons import ENGLISH, Reason, reason

A = Item("a", "manager", 10, 10, 20)
B = Item("b", "report", 10, 10, 10)
C = Item("c", "report", 10, 10, 5)


def places(made: Plan) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(slot.key, slot.reason.code, slot.reason.keys) for slot in made.slots]


def test_density_orders_and_says_so() -> None:
    assert places(plan([A, B, C], Frame(30))) == [
        ("a", "denser", ("b",)),
        ("b", "denser", ("c",)),
        ("c", "last", ()),
    ]


def test_an_agreed_start_is_named() -> None:
    made = plan([replace(B, start=7)], Frame(30))
    assert places(made) == [("b", "agreed_slot", ())]
    assert str(made.slots[0].reason) == "Agreed to start at minute 7."


def test_the_only_topic_is_called_so() -> None:
    assert places(plan([A], Frame(30))) == [("a", "only", ())]


def test_what_comes_after_names_what_it_waits_for() -> None:
    made = plan([replace(A, after=("c",)), C], Frame(30))
    assert places(made) == [("c", "before", ("a",)), ("a", "after", ("c",))]


def test_the_hand_is_named_only_where_it_bound() -> None:
    assert [code for _, code, _ in places(plan([A, B], Frame(30, order=("b", "a"))))] == [
        "by_hand",
        "by_hand",
    ]
    assert [code for _, code, _ in places(plan([A, B], Frame(30, order=("a", "b"))))] == ["denser", "last"]


def test_a_sensitive_topic_is_kept_from_the_ends() -> None:
    made = plan([replace(A, sensitive=True), B, C], Frame(30))
    assert places(made)[0] == ("b", "for_sensitive", ("a",))
    last = plan([A, B, replace(C, sensitive=True)], Frame(30))
    assert places(last)[1:] == [("c", "sensitive", ()), ("b", "for_sensitive", ("c",))]


def test_the_issued_order_is_named_where_it_held() -> None:
    issued = plan([A, B], Frame(30))
    shaken = plan([replace(A, worth=9), B], Frame(30, mu=20), issued)
    assert places(shaken) == [("a", "kept", ("b",)), ("b", "kept_after", ("a",))]


def test_an_earliest_start_is_named() -> None:
    made = plan([A, replace(C, not_before=15)], Frame(30))
    assert places(made)[1] == ("c", "not_before", ())


@pytest.mark.parametrize(
    ("item", "code"),
    [
        (Item("long", None, 40, 31, 50), "too_long"),
        (Item("late", None, 10, 10, 50, not_before=25), "slot_outside"),
        (Item("next", None, 5, 5, 1, after=("c",)), "predecessor"),
        (Item("more", None, 20, 20, 1), "no_minutes"),
    ],
)
def test_a_topic_left_out_names_what_shut_it_out(item: Item, code: str) -> None:
    made = plan([A, B, replace(C, least=11, wanted=11), item], Frame(30))
    found = {out.key: out.reason.code for out in made.left_out}
    assert found[item.key] == code


def test_minutes_that_are_free_in_the_wrong_place_are_called_a_gap() -> None:
    made = plan([replace(A, start=5, must=True), B], Frame(20))
    assert [out.reason.code for out in made.left_out] == ["no_gap"]


def test_a_floor_that_shuts_out_names_the_side() -> None:
    items = [A, replace(B, wanted=5, least=5), replace(B, key="d", worth=1, wanted=30, least=30)]
    made = plan(items, Frame(30, floors={"report": Fraction(1, 2)}))
    assert {out.key: (out.reason.code, out.reason.keys) for out in made.left_out}["a"] == (
        "floor",
        ("report",),
    )


def test_lengths_say_full_trimmed_or_by_history() -> None:
    flexible = replace(A, least=5)
    assert str(plan([flexible], Frame(30)).slots[0].length) == "All 10 minutes wanted."
    assert str(plan([flexible], Frame(8)).slots[0].length) == "8 of the 10 minutes wanted."
    asked = replace(flexible, wanted=13, asked=10)
    assert plan([asked], Frame(30)).slots[0].length.code == "history"
    assert plan([asked], Frame(12)).slots[0].length.code == "history_trimmed"


def test_every_code_is_documented_and_every_documented_code_has_a_sentence() -> None:
    text = reasons_module.__doc__ or ""
    documented = {line.split("`")[1] for line in text.splitlines() if line.startswith("| `")}
    assert documented == set(ENGLISH)


def test_an_undocumented_code_is_refused() -> None:
    with pytest.raises(KeyError):
        reason("because")


def test_fractions_are_said_to_one_decimal() -> None:
    short = Reason("floor_short", (("minutes", Fraction(5, 2)), ("share", Fraction(2, 5))), ("report",))
    assert str(short) == "The report gets 2.5 minutes fewer than the share agreed."


def test_infeasible_is_said_in_minutes_with_the_cheapest_ways_out_first() -> None:
    made = plan([replace(A, must=True), replace(B, must=True), replace(C, must=True)], Frame(25, slack=5))
    assert made.infeasible == (
        "The must-discuss topics need at least 30 minutes; there are 20: 10 too many. "
        "Let c be left out, which frees 10 minutes. Let b be left out, which frees 10 minutes. "
        "Let a be left out, which frees 10 minutes. Make the meeting 10 minutes longer."
    )


def test_slack_is_offered_where_it_is_enough() -> None:
    made = plan([replace(A, must=True)], Frame(12, slack=4))
    assert [way.code for way in made.ways_out] == ["not_must", "use_slack", "lengthen"]
    assert plan([replace(A, must=True)], Frame(12, slack=2)).infeasible is None


def test_agreed_times_that_clash_are_lifted_from_the_topic_worth_least() -> None:
    made = plan([replace(A, must=True, start=5), replace(B, must=True, start=8)], Frame(30))
    assert [str(one) for one in made.relaxed] == ["The times agreed for b cannot be kept."]
    assert made.slot("a") is not None
    assert made.keys[0] == "a"


def test_a_floor_gives_way_by_the_least_shortfall() -> None:
    made = plan([replace(A, must=True), B], Frame(15, floors={"report": Fraction(1, 2)}))
    assert [(one.code, one.keys, one.number("minutes")) for one in made.relaxed] == [
        ("floor_short", ("report",), 5)
    ]
