"""What is promised when the counted steps end early: a plan that keeps the rules, and no false proof."""

from dataclasses import replace
from random import Random

import pytest

from oneonone.planner import Frame, Item, Plan, plan
from oneonone.planner.knapsack import Budget
from oneonone.planner.problem import read
from oneonone.planner.rule import Steps
from tests.planner.draws import Agenda, draw


def with_steps(agenda: Agenda, steps: int) -> Plan:
    return Steps(read(*agenda), Budget(steps)).plan()


@pytest.mark.parametrize("steps", [0, 20, 100, 300, 1000])
@pytest.mark.parametrize("starts", [0, 2, 6])
def test_with_few_steps_a_plan_is_valid_and_proven_only_if_it_is_the_best(steps: int, starts: int) -> None:
    unproven = 0
    for seed in range(25):
        agenda = draw(("budget", seed), Random(seed).randint(5, 40), starts)
        items, frame = agenda
        made, full = with_steps(agenda, steps), plan(*agenda)
        assert full.unproven == 0
        if made.unproven == 0:
            assert (made.slots, made.left_out) == (full.slots, full.left_out)
        unproven += made.unproven > 0
        clock = frame.opening
        for slot in made.slots:
            item = next(item for item in items if item.key == slot.key)
            assert clock <= slot.start
            clock = slot.end
            assert item.least <= slot.minutes <= item.wanted
            assert item.start in (None, slot.start)
            assert all(
                made.keys.index(key) < made.keys.index(slot.key) for key in item.after if key != "gone"
            )
        assert clock <= frame.minutes - frame.closing
    if steps == 0 and starts:
        assert unproven


def test_many_topics_that_one_needs_are_ordered_or_said_to_be_unproven() -> None:
    """Too many sets can stand first: the order is a guess, and says what it may still miss."""

    early = [Item(f"a{n:02}", None, 2, 2, 4 + n % 5) for n in range(16)]
    late = [
        Item(f"b{n:02}", None, 2, 2, 4 + n * 7 % 9, after=(f"a{n:02}", f"a{(n + 1) % 16:02}"))
        for n in range(16)
    ]
    made = plan([*early, *late], Frame(64))
    assert len(made.slots) == 32
    assert made.unproven > 0
    assert all(made.keys.index(key) < made.keys.index(item.key) for item in late for key in item.after)
    again = plan([replace(item) for item in (*late, *early)], Frame(64))
    assert again == made
