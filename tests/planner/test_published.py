"""Published results. R: recalled from memory, the optimum recomputed here; D: seen in a stored page."""

from itertools import permutations

import pytest

from oneonone.planner import Frame, Item, Plan, plan

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


@pytest.mark.parametrize("rank", [0, 1, 2])
@pytest.mark.parametrize("name", KNAPSACKS)
def test_topics_of_one_length_reach_the_published_knapsack_optimum(name: str, rank: int) -> None:
    capacity, weights, profits, optimum = KNAPSACKS[name]
    items = [
        Item(f"{place:02}", None, int(weight), int(weight), int(profit), rank=rank)
        for place, (weight, profit) in enumerate(zip(weights.split(), profits.split(), strict=True))
    ]
    found = plan(items, Frame(capacity))
    assert found.worth[rank] == optimum == sum(found.worth)
    assert found.unproven == 0


def cost(made: Plan, worth: dict[str, int]) -> int:
    return sum(worth[slot.key] * slot.end for slot in made.slots)


def test_smiths_two_jobs_cost_eighteen_in_the_order_of_the_ratio() -> None:
    """Smith, Naval Research Logistics Quarterly 3 (1956): 18, against 46 the other way round. D."""
    items = [Item("one", None, 1, 1, 10), Item("two", None, 3, 3, 2)]
    worth = {"one": 10, "two": 2}
    found = plan(items, Frame(4))
    assert (found.keys, cost(found, worth)) == (("one", "two"), 18)
    assert cost(plan(items, Frame(4, order=("two", "one"))), worth) == 46


def test_two_chains_take_the_published_order() -> None:
    """Pinedo, Scheduling, exercise 3.1.5 on chains 1-2-3-4 and 5-6-7. R, the optimum recomputed."""
    worths, minutes = [6, 18, 12, 8, 8, 17, 18], [3, 6, 6, 5, 4, 8, 10]
    after = {"2": "1", "3": "2", "4": "3", "6": "5", "7": "6"}
    items = [
        Item(str(n), None, p, p, w, after=(after[str(n)],) if str(n) in after else ())
        for n, (w, p) in enumerate(zip(worths, minutes, strict=True), 1)
    ]
    found = plan(items, Frame(sum(minutes)))
    assert found.keys == tuple("1256374")

    def total(line: tuple[str, ...]) -> int:
        clock = sums = 0
        for key in line:
            clock += minutes[int(key) - 1]
            sums += worths[int(key) - 1] * clock
        return sums

    allowed = [
        line
        for line in permutations("1234567")
        if all(line.index(one) < line.index(other) for other, one in after.items())
    ]
    assert total(found.keys) == min(map(total, allowed))


@pytest.mark.parametrize(("room", "worth"), [(7, 9), (8, 21), (11, 26)])
def test_a_worthless_topic_is_taken_for_what_needs_it(room: int, worth: int) -> None:
    """Own instance, not published."""
    items = [
        Item("0", None, 4, 4, 1),
        Item("1", None, 4, 4, 20, after=("0",)),
        Item("2", None, 5, 5, 9),
        Item("3", None, 3, 3, 5),
    ]
    assert plan(items, Frame(room)).worth == (0, worth, 0)
