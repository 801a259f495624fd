"""A search that is cut says so: what it has not shown stays in its bound."""

from fractions import Fraction

from oneonone.planner import Frame, Item, plan
from oneonone.planner.timetables import Timetables
from tests.planner.timed import examples


def test_a_search_that_ended_is_bounded_by_what_it_found() -> None:
    for one in examples(14, range(550, 570)):
        search = Timetables(one.problem, one.times, one.frame.room, one.floors)
        found, bound = search.better_than(-1)
        assert found is not None
        assert found.value == bound == one.value


def test_what_is_known_to_be_best_is_not_found_again_and_bounds_it() -> None:
    for one in examples(14, range(550, 570)):
        search = Timetables(one.problem, one.times, one.frame.room, one.floors)
        assert search.better_than(one.value) == (None, one.value)


def test_without_steps_nothing_is_found_and_the_bound_stays_open() -> None:
    """Where lengths alone do not answer."""
    open_ones = 0
    for one in examples(14, range(570, 600)):
        search = Timetables(one.problem, one.times, one.frame.room, one.floors, steps=0)
        found, bound = search.better_than(-1)
        assert bound >= one.value
        assert found is not None or bound > -1
        open_ones += found is None or bound > found.value
    assert open_ones


def test_shares_that_make_up_the_whole_are_kept_to_the_minute() -> None:
    """Half each, where neither can have all it asked for: as many minutes for one as for the other."""
    items = [
        Item("mine", "manager", 9, 5, 20),
        Item("long", "manager", 30, 30, 5),
        Item("yours", "report", 10, 4, 9),
        Item("ours", None, 3, 3, 30),
        Item("fixed", "report", 4, 4, 6, start=10),
    ]
    made = plan(items, Frame(25, floors={"manager": Fraction(1, 2), "report": Fraction(1, 2)}))
    minutes = {slot.key: slot.minutes for slot in made.slots}
    assert set(minutes) == {"mine", "yours", "fixed"}
    assert minutes["mine"] == minutes["yours"] + minutes["fixed"] == 9
