"""What a topic's worth is made of adds up to the rule's worth, for everything that can be said of a topic."""

from __future__ import annotations

from itertools import product

from oneonone.selectors.weighing import LEVELS

from oneonone.models import Importance, Side, Topic
from oneonone.planner import worth

Level = Importance.Level


def test_the_parts_add_up_whatever_is_said() -> None:
    for manager, report, kind, kept, must in product(LEVELS, LEVELS, Topic.Kind, range(7), (False, True)):
        weight = weighing.of(
            {Side.MANAGER: manager, Side.REPORT: report}, kind=kind.value, times_kept=kept, must=must
        )
        assert weight.worth == worth(
            manager=manager.value, report=report.value, kind=kind.value, kept=kept, must=must
        )


def test_a_case_worked_by_hand() -> None:
    # 2 x 6 from the manager's "first", 2 x 3 from the report's silence, 2 for an obstacle, 1 for being kept.
    said = {Side.MANAGER: Level.FIRST, Side.REPORT: Level.IN_TURN}
    weight = weighing.of(said, kind="obstacle", times_kept=1, must=True)
    assert (weight.manager, weight.report, weight.of_kind, weight.of_age, weight.of_must) == (12, 6, 2, 1, 4)
    assert weight.worth == 25


def test_the_tables_are_the_rules_own_numbers() -> None:
    rule = weighing.the_rule()
    for manager, report in product(LEVELS, LEVELS):
        plain = worth(manager=manager.value, report=report.value, kind="update")
        assert rule.said[manager][report] == plain
        for kind, adds in rule.kinds.items():
            assert worth(manager=manager.value, report=report.value, kind=kind.value) == plain + adds
    for times, adds in rule.ages.items():
        assert worth(manager="first", report="first", kind="update", kept=times) == 24 + adds
    assert worth(manager="first", report="first", kind="update", must=True) == 24 + rule.must
    assert (rule.lowest, rule.highest) == (4, 34)


def test_the_rule_is_the_same_for_both_sides() -> None:
    said = weighing.the_rule().said
    assert all(said[mine][yours] == said[yours][mine] for mine, yours in product(LEVELS, LEVELS))


def test_being_kept_stops_adding_where_the_rule_stops() -> None:
    ages = weighing.the_rule().ages
    assert list(ages) == [1, 2, 3, 4]
    last = max(ages)
    assert worth(manager="first", report="first", kind="idea", kept=last + 1) == worth(
        manager="first", report="first", kind="idea", kept=last
    )
