"""Fillings of the gaps between agreed starts: every plan is within one of them."""

from oneonone.planner import Frame, Item
from oneonone.planner.gaps import Gaps
from oneonone.planner.problem import read
from oneonone.planner.times import times
from tests.planner.timed import Example, examples


def gaps_of(items: list[Item]) -> tuple[Gaps, list[str]]:
    problem = read(items, Frame(30))
    gaps = Gaps(problem, times(problem), 30, (), (1 << problem.size) - 1, ())
    return gaps, [item.key for item in problem.items]


def fillings(items: list[Item], known: int = -1) -> set[tuple[tuple[str, int, int], ...]]:
    """The (key, earliest, over) of every filling."""
    gaps, keys = gaps_of(items)
    return {
        tuple(sorted((key, when.earliest[i], when.over[i]) for i, key in enumerate(keys)))
        for _, when in gaps.fillings(lambda: known)
    }


def test_every_way_to_divide_topics_is_found_once() -> None:
    items = [
        Item("fixed", None, 10, 10, 9, start=10),
        Item("long", None, 10, 8, 6),
        Item("short", None, 5, 3, 5),
    ]
    assert fillings(items) == {
        (("fixed", 10, 30), ("long", 0, 10), ("short", 20, 30)),
        (("fixed", 10, 30), ("long", 20, 30), ("short", 0, 10)),
    }


def test_topics_that_could_change_places_are_divided_one_way() -> None:
    fixed = Item("fixed", None, 10, 10, 9, start=10)
    twins = [fixed, *(Item(f"t{k}", None, 8, 6, 20 - k) for k in range(2))]
    assert len(fillings(twins)) == 2
    alike = [fixed, *(Item(f"t{k}", None, 8, 6, 20) for k in range(2))]
    assert len(fillings(alike)) == 1


def test_a_topic_never_stands_in_a_gap_before_what_it_follows() -> None:
    items = [
        Item("fixed", None, 4, 4, 9, start=13),
        Item("first", None, 6, 4, 20),
        Item("second", None, 6, 4, 5, after=("first",)),
    ]
    for filling in fillings(items):
        found = {key: (earliest, over) for key, earliest, over in filling}
        assert found["first"][0] <= found["second"][0]


def test_fillings_worth_no_more_than_what_is_known_are_left_out() -> None:
    items = [
        Item("fixed", None, 10, 10, 9, start=8),
        Item("long", None, 12, 6, 30),
        Item("short", None, 4, 2, 5),
    ]
    gaps, _ = gaps_of(items)
    bounds = sorted(bound for bound, _ in gaps.fillings(lambda: -1))
    assert len(bounds) == 4
    assert [bound for bound, _ in gaps.fillings(lambda: bounds[-1])] == []
    assert all(bound > bounds[0] for bound, _ in gaps.fillings(lambda: bounds[0]))


def within(one: Example, bound: int, earliest: tuple[int, ...], over: tuple[int, ...]) -> bool:
    fits = all(earliest[i] <= start and start + d <= over[i] for i, start, d in one.used)
    return fits and bound >= one.value


def test_every_plan_is_within_a_filling_up_to_topics_that_could_change_places() -> None:
    seen = 0
    for one in examples(14, range(470, 520)):
        gaps = Gaps(one.problem, one.times, one.frame.room, one.floors, one.chosen, [0] * len(one.floors))
        found = list(gaps.fillings(lambda: -1))
        twins = any(twin >= 0 for twin in gaps.twin.values())
        assert found
        assert max(bound for bound, _ in found) >= one.value
        if not twins:
            assert any(within(one, bound, when.earliest, when.over) for bound, when in found)
            seen += len(found) > 1
    assert seen > 10


def test_where_too_many_sets_fit_a_gap_it_is_left_open() -> None:
    items = [Item("fixed", None, 1, 1, 9, start=15)]
    items += [Item(f"t{k:02}", None, 2, 1, 30 - k) for k in range(14)]
    assert fillings(items) == {
        (("fixed", 15, 30), *((f"t{k:02}", 0, 30) for k in range(14))),
    }
