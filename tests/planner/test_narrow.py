"""Times drawn closer keep every timetable, and tell what a person would tell."""

from oneonone.planner import Frame, Item
from oneonone.planner.narrow import narrowed
from oneonone.planner.problem import read
from oneonone.planner.times import Times, times
from tests.planner.timed import examples


def drawn(items: list[Item], inside: tuple[str, ...]) -> dict[str, tuple[int, int, int] | None]:
    """Earliest, latest and over of each topic once those inside are in; None for one without a place."""
    problem = read(items, Frame(30))
    number = {item.key: i for i, item in enumerate(problem.items)}
    chosen = sum(1 << number[key] for key in inside)
    when: Times = narrowed(problem, times(problem), chosen, range(problem.size))
    return {
        key: None if when.dead >> i & 1 else (when.earliest[i], when.latest[i], when.over[i])
        for key, i in number.items()
    }


def test_a_topic_stands_before_or_behind_an_agreed_start() -> None:
    items = [
        Item("fixed", None, 5, 5, 9, start=8),
        Item("long", None, 10, 10, 5),
        Item("late", None, 4, 4, 5, not_before=5),
        Item("short", None, 3, 3, 5),
    ]
    found = drawn(items, ("fixed",))
    assert found["long"] == (13, 20, 30)
    assert found["late"] == (13, 26, 30)
    assert found["short"] == (0, 27, 30)


def test_a_topic_that_fits_on_neither_side_has_no_place() -> None:
    items = [Item("fixed", None, 10, 10, 9, start=9), Item("long", None, 12, 12, 5)]
    assert drawn(items, ("fixed",))["long"] is None
    assert drawn(items, ())["long"] == (0, 18, 30)


def test_only_topics_that_are_in_stand_in_the_way() -> None:
    items = [Item("fixed", None, 5, 5, 9, start=8), Item("long", None, 10, 10, 5)]
    assert drawn(items, ("long",))["fixed"] == (8, 8, 30)
    assert drawn(items, ("long",))["long"] == (0, 20, 30)


def test_two_that_are_in_push_each_other() -> None:
    items = [
        Item("early", None, 8, 8, 9, by=12),
        Item("other", None, 8, 8, 5, by=20),
        Item("after", None, 5, 5, 5, after=("other",)),
    ]
    found = drawn(items, ("early", "other", "after"))
    assert found["other"] == (8, 12, 20)
    assert found["after"] == (16, 25, 30)


def test_every_plan_stands_within_the_times_its_topics_leave_one_another() -> None:
    seen = 0
    for one in examples(16, range(400, 440)):
        for inside in (one.chosen, one.chosen & ~one.times.free):
            when = narrowed(one.problem, one.times, inside, one.alive)
            assert not when.dead & one.chosen
            for i, start, minutes in one.used:
                assert when.earliest[i] <= start <= when.latest[i]
                assert start + minutes <= when.over[i]
                seen += when.latest[i] < one.times.latest[i] or when.earliest[i] > one.times.earliest[i]
    assert seen > 500
