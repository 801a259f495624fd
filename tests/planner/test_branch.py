"""A search that is cut says so: what it has not shown stays in its bound."""

import pytest

from oneonone.planner.branch import Branching
from oneonone.planner.fit import Offer
from oneonone.planner.lengths import allot
from oneonone.planner.problem import bits, read
from oneonone.planner.rules import room_rule
from tests.planner.shapes import draw


@pytest.mark.parametrize("nodes", [0, 1, 3])
def test_a_search_cut_by_its_nodes_keeps_a_bound_above_what_is_known(nodes: int) -> None:
    """On a draw that takes more of them."""
    items, frame = draw("rigid", 5, 40)
    problem = read(items, frame)

    def worth(chosen: int, known: int, offer: Offer) -> tuple[int | None, bool]:
        minutes = allot(problem, bits(chosen), frame.room)
        value = sum(problem.worth(i, d) for i, d in minutes.items())
        fits = sum(minutes.values()) <= frame.room
        return (value if fits and value > known else None), True

    rules = [room_rule(range(problem.size), frame.room)]
    whole = Branching(problem, range(problem.size), rules, (), worth, lambda taken: True)
    whole.run()
    assert whole.bound == whole.best
    assert whole.nodes > 3
    cut = Branching(problem, range(problem.size), rules, (), worth, lambda taken: True, most_nodes=nodes)
    cut.run()
    assert cut.bound > cut.best
    assert cut.bound >= whole.best


def test_a_set_that_was_not_sure_stays_in_the_bound() -> None:
    items, frame = draw("plain", 1, 12)
    problem = read(items, frame)
    rules = [room_rule(range(problem.size), frame.room)]
    search = Branching(problem, range(problem.size), rules, (), lambda *_: (None, False), lambda taken: True)
    search.run()
    assert search.best == -1
    assert search.bound > -1


def test_what_was_not_sure_is_asked_about_again_in_the_end() -> None:
    items, frame = draw("rigid", 5, 40)
    problem = read(items, frame)

    def value_of(chosen: int) -> int:
        minutes = allot(problem, bits(chosen), frame.room)
        fits = sum(minutes.values()) <= frame.room
        return sum(problem.worth(i, d) for i, d in minutes.items()) if fits else -1

    def thorough(chosen: int, known: int, offer: Offer) -> tuple[int | None, bool]:
        value = value_of(chosen)
        return (value if value > known else None), True

    rules = [room_rule(range(problem.size), frame.room)]
    whole = Branching(problem, range(problem.size), rules, (), thorough, lambda taken: True)
    whole.run()
    search = Branching(
        problem,
        range(problem.size),
        rules,
        (),
        lambda *_: (None, False),
        lambda taken: True,
        thorough=thorough,
    )
    search.run()
    assert search.best == search.bound == whole.best
