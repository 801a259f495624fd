"""Published results. R: recalled from memory, the optimum recomputed here; D: seen in a stored page."""

from dataclasses import replace
from fractions import Fraction

import pytest

from oneonone.planner import Frame, Item, plan

# KNAPSACK_01, data sets collected by J. Burkardt, after Martello & Toth, Knapsack Problems (1990). R.
KNAPSACKS = {
    "P01": (165, "23 31 29 44 53 38 63 85 89 82", "92 57 49 68 60 43 67 84 87 72", 309),
    "P02": (26, "12 7 11 8 9", "24 13 23 15 16", 51),
    "P03": (190, "56 59 80 64 75 17", "50 50 64 46 50 5", 150),
    "P04": (50, "31 10 20 19 4 3 6", "70 20 39 37 7 5 10", 107),
    "P05": (104, "25 35 45 5 25 3 2 2", "350 400 450 20 70 8 5 5", 900),
    "P07": (
        750,
        "70 73 77 80 82 87 90 94 98 106 110 113 115 118 120",
        "135 139 149 150 156 163 173 184 192 201 210 214 221 229 240",
        1458,
    ),
    # Cormen, Leiserson, Rivest & Stein, Introduction to Algorithms, the 0/1 knapsack figure. R.
    "CLRS": (50, "10 20 30", "60 100 120", 220),
}


@pytest.mark.parametrize("name", KNAPSACKS)
def test_rigid_topics_reach_the_published_knapsack_optimum(name: str) -> None:
    capacity, weights, profits, optimum = KNAPSACKS[name]
    items = [
        Item(f"{place:02}", None, int(weight), int(weight), int(profit))
        for place, (weight, profit) in enumerate(zip(weights.split(), profits.split(), strict=True))
    ]
    found = plan(items, Frame(capacity))
    assert found.worth == optimum
    assert found.set_gap == 0


def test_smiths_two_jobs_cost_eighteen_in_the_order_of_the_ratio() -> None:
    """Smith, Naval Research Logistics Quarterly 3 (1956): 18, against 46 the other way round. D."""
    items = [Item("one", None, 1, 1, 10), Item("two", None, 3, 3, 2)]
    found = plan(items, Frame(4))
    assert (found.keys, found.cost) == (("one", "two"), 18)
    assert plan(items, Frame(4, order=("two", "one"))).cost == 46


def test_two_chains_take_the_published_order() -> None:
    """Pinedo, Scheduling, exercise 3.1.5 on chains 1-2-3-4 and 5-6-7. R."""
    worths, minutes = [6, 18, 12, 8, 8, 17, 18], [3, 6, 6, 5, 4, 8, 10]
    after = {"2": "1", "3": "2", "4": "3", "6": "5", "7": "6"}
    items = [
        Item(str(n), None, p, p, w, after=(after[str(n)],) if str(n) in after else ())
        for n, (w, p) in enumerate(zip(worths, minutes, strict=True), 1)
    ]
    found = plan(items, Frame(sum(minutes)))
    assert found.keys == tuple("1256374")
    assert found.order_gap == 0


@pytest.mark.parametrize(("room", "worth"), [(7, 9), (8, 21), (11, 26)])
def test_a_worthless_predecessor_is_taken_for_what_it_opens(room: int, worth: int) -> None:
    """Own instance, not published."""
    items = [
        Item("0", None, 4, 4, 1),
        Item("1", None, 4, 4, 20, after=("0",)),
        Item("2", None, 5, 5, 9),
        Item("3", None, 3, 3, 5),
    ]
    assert plan(items, Frame(room)).worth == Fraction(worth)


def test_three_of_five_jobs_are_on_time() -> None:
    """Moore, Management Science 15 (1968); Pinedo, Scheduling, exercise 3.3.3: two late, 3 4 5 on time. R."""
    minutes, due = [7, 8, 4, 6, 6], [9, 17, 18, 19, 21]
    items = [Item(str(n), None, p, p, 1, by=d) for n, (p, d) in enumerate(zip(minutes, due, strict=True), 1)]
    assert plan(items, Frame(60)).worth == 3
    on_time = [replace(item, must=item.key in "345") for item in items]
    assert plan(on_time, Frame(60)).relaxed == ()


def test_a_worst_cost_of_ten_can_be_kept_and_nothing_less() -> None:
    """Lawler, Management Science 19 (1973); Pinedo, exercise 3.2.3: h = 1 + C, 1.2 C, 10; optimum 10. R."""
    minutes = [2, 3, 5]

    def kept(limit: int) -> bool:
        due = [limit - 1, limit * 10 // 12, 60 if limit >= 10 else 0]
        items = [
            Item(str(n), None, p, p, 1, must=True, by=d)
            for n, (p, d) in enumerate(zip(minutes, due, strict=True), 1)
        ]
        return plan(items, Frame(60)).relaxed == ()

    assert kept(10)
    assert not kept(9)


def test_with_release_dates_a_lateness_of_five_can_be_kept_and_not_of_four() -> None:
    """Pinedo, 1 | r | Lmax: p 4 2 6 5; r 0 1 3 5; d 8 12 11 10: Lmax 5 in the order 1 3 4 2. R."""
    minutes, release, due = [4, 2, 6, 5], [0, 1, 3, 5], [8, 12, 11, 10]

    def items(late: int) -> list[Item]:
        return [
            Item(str(n), None, p, p, 1, must=True, not_before=r, by=d + late)
            for n, (p, r, d) in enumerate(zip(minutes, release, due, strict=True), 1)
        ]

    assert plan(items(5), Frame(60)).relaxed == ()
    assert plan(items(5), Frame(60, order=("1", "3", "4", "2"))).keys == ("1", "3", "4", "2")
    assert [one.code for one in plan(items(4), Frame(60)).relaxed] == ["slot_lifted"]
