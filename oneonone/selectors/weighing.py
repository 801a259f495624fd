"""The worth of a topic, taken apart by the rule in ``oneonone.planner.worth``, and the rule itself as tables.

Nothing here is counted a second time: every number is asked of the rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from oneonone.models import Importance, Side, Topic
from oneonone.planner import Frame
from oneonone.planner import worth as rule

LEVELS = tuple(Importance.Level)
# A kind that adds nothing, against which the others are told.
PLAIN = Topic.Kind.UPDATE.value


@dataclass(frozen=True)
class Weight:
    """What each thing said of a topic adds to its worth; ``worth`` is all of it together."""

    levels: Mapping[Side, Importance.Level]
    kind: str
    times_kept: int
    manager: int
    report: int
    of_kind: int
    of_age: int
    of_must: int

    @property
    def worth(self) -> int:
        return self.manager + self.report + self.of_kind + self.of_age + self.of_must

    def of(self, side: Side) -> int:
        """What that side's importance adds."""
        return self.manager if side is Side.MANAGER else self.report


def of(levels: Mapping[Side, Importance.Level], *, kind: str, times_kept: int, must: bool) -> Weight:
    """The worth of a topic in its parts, each the difference it makes in the rule."""
    manager, report = levels[Side.MANAGER].value, levels[Side.REPORT].value
    said = rule(manager=manager, report=report, kind=kind)
    plain = said - rule(manager=manager, report=report, kind=PLAIN)
    kept = rule(manager=manager, report=report, kind=kind, kept=times_kept)
    whole = rule(manager=manager, report=report, kind=kind, kept=times_kept, must=must)
    return Weight(
        levels=levels,
        kind=kind,
        times_kept=times_kept,
        manager=rule(manager=manager, report=manager, kind=PLAIN) // 2,
        report=rule(manager=report, report=report, kind=PLAIN) // 2,
        of_kind=plain,
        of_age=kept - said,
        of_must=whole - kept,
    )


@dataclass(frozen=True)
class Rule:
    """The rule of worth as tables, and the settings of the order that the page names.

    ``said[manager][report]`` is what the two importances of a plain topic come to; ``kinds`` what each kind
    adds, ``ages`` what having been kept so many times adds, ``must`` what being must-discuss adds. ``beta``
    is the part of its worth that a topic has at its least useful minutes.
    """

    said: Mapping[Importance.Level, Mapping[Importance.Level, int]]
    kinds: Mapping[Topic.Kind, int]
    ages: Mapping[int, int]
    must: int
    lowest: int
    highest: int
    beta: Fraction


def the_rule() -> Rule:
    """The rule as it is now, asked of the function that weighs."""
    turn = Importance.Level.IN_TURN.value
    plain = rule(manager=turn, report=turn, kind=PLAIN)

    def added(kind: str = PLAIN, kept: int = 0, must: bool = False) -> int:
        return rule(manager=turn, report=turn, kind=kind, kept=kept, must=must) - plain

    said = {
        mine: {yours: rule(manager=mine.value, report=yours.value, kind=PLAIN) for yours in LEVELS}
        for mine in LEVELS
    }
    kinds = {kind: added(kind.value) for kind in Topic.Kind}
    ages = {times: added(kept=times) for times in range(1, _until_it_stops() + 1)}
    sums = [worth for row in said.values() for worth in row.values()]
    return Rule(
        said=said,
        kinds=dict(sorted(kinds.items(), key=lambda one: -one[1])),
        ages=ages,
        must=added(must=True),
        lowest=min(sums) + min(kinds.values()),
        highest=max(sums) + max(kinds.values()) + max(ages.values()) + added(must=True),
        beta=Frame(1).beta,
    )


def _until_it_stops() -> int:
    """From how many times on being kept once more adds nothing."""
    turn = Importance.Level.IN_TURN.value
    times = 0
    while rule(manager=turn, report=turn, kind=PLAIN, kept=times + 1) > rule(
        manager=turn, report=turn, kind=PLAIN, kept=times
    ):
        times += 1
    return times
