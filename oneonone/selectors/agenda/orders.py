"""The stored versions of a meeting's order: the latest one, what was chosen by hand, and who moved what.

Versions are written by ``oneonone.services.agenda.order_versions``.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from oneonone import planner
from oneonone.models import Meeting, Order, Side

WITH_ORDER = (Meeting.State.ISSUED, Meeting.State.UNDER_WAY)
UNDOABLE = (Order.Cause.MOVED, Order.Cause.REPLANNED)


@dataclass(frozen=True)
class Versions:
    """All versions of one meeting's order, oldest first. A plan is read when it is asked for."""

    rows: tuple[Order, ...]
    latest: Order | None

    @property
    def standing(self) -> tuple[Order, ...]:
        """The versions by hand that were not undone, oldest first."""
        kept: list[Order] = []
        for row in self.rows:
            if row.cause in UNDOABLE:
                kept.append(row)
            elif row.cause == Order.Cause.UNDONE and kept:
                kept.pop()
        return tuple(kept)

    @property
    def kept_order(self) -> tuple[str, ...]:
        """The keys of the latest version whose order is kept: it was issued, or the hand has chosen it."""
        issued = any(row.cause in (Order.Cause.ISSUED, Order.Cause.STARTED) for row in self.rows)
        by_hand = bool(self.standing) and self.standing[-1].cause == Order.Cause.MOVED
        return keys_of(self.latest) if self.latest is not None and (issued or by_hand) else ()

    def moved_by(self, key: str) -> Order | None:
        """The last version in which this topic was placed by hand; None where no such move stands."""
        moves = [row for row in self.standing if row.cause == Order.Cause.MOVED]
        return next((row for row in reversed(moves) if str(row.placement_id) == key), None)

    def since(self, number: int) -> tuple[Order, ...]:
        """The versions by hand that stand and are newer than one."""
        return tuple(row for row in self.standing if row.number > number)


def of(meeting: Meeting) -> Versions:
    """The versions of a meeting's order: one query, and one for the plan of the latest."""
    rows = tuple(Order.objects.filter(meeting=meeting).defer("plan").order_by("number"))
    sides = {person.pk: person for side in Side if (person := meeting.line.person_on(side)) is not None}
    for row in rows:
        if row.by_id in sides:
            row.by = sides[row.by_id]
    return Versions(rows, rows[-1] if rows else None)


def latest(meeting: Meeting) -> Order | None:
    """The newest version with its plan; None before there is any."""
    return Order.objects.filter(meeting=meeting).select_related("by").order_by("-number").first()


def keys_of(order: Order) -> tuple[str, ...]:
    """The topics of a version, first to last."""
    return tuple(slot["key"] for slot in order.plan["slots"])


def plan_of(order: Order) -> planner.Plan:
    """The plan that a version keeps."""
    return planner.from_json(order.plan)


def factors_of(order: Order) -> dict[str, Fraction]:
    """How many times over each kind ran, as this version was made with."""
    return {kind: Fraction(hundredths, 100) for kind, hundredths in order.factors.items()}
