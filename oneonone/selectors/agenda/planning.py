"""The order of a meeting, worked out by the planner: as it would be now, or what follows a version of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from oneonone import planner
from oneonone.models import Meeting, Order, Placement
from oneonone.planner import Plan, Reason, Slot

from . import frame, orders, planner_input
from .orders import Versions
from .planner_input import PlannerInput

# The planner's reason for a topic of each rank.
RANK_CODES = ("first", "in_turn", "if_time")
HEARD = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)


@dataclass(frozen=True)
class StandingOrder:
    """The order of a meeting as it stands: the plan, the versions behind it, and what it is planned from.

    ``order`` is the version that people prepare against, None before there is one; then the plan is worked
    out at each look. ``given`` is None for a stored plan.
    """

    plan: Plan
    versions: Versions
    order: Order | None
    opening: int
    given: PlannerInput | None

    @property
    def newest(self) -> int | None:
        """The number of the newest version, also while none is issued."""
        return None if self.versions.latest is None else self.versions.latest.number

    @property
    def factors(self) -> Mapping[str, Fraction]:
        """How many times over each kind runs, as the order was made with."""
        if self.order is not None:
            return orders.factors_of(self.order)
        return {} if self.given is None else self.given.factors

    def last_minute(self, meeting: Meeting) -> int:
        """The minute at which reading back begins."""
        return meeting.minutes - frame.closing_minutes(meeting.minutes)


def standing(meeting: Meeting, *, like: StandingOrder | None = None) -> StandingOrder:
    """The order that stands: the latest version once it is issued, and before that as it would be now.

    ``like`` is what stood before an act on the order alone: opening and factors are taken from it.
    """
    versions = orders.of(meeting)
    latest = versions.latest
    if latest is not None and meeting.state != Meeting.State.PLANNED:
        return StandingOrder(orders.plan_of(latest), versions, latest, latest.opening, None)
    known = None if like is None else like.given
    given = planner_input.of(
        meeting,
        order=versions.kept_order,
        opening=None if known is None else known.frame.opening,
        factors=None if known is None else known.factors,
    )
    return StandingOrder(planned(given), versions, None, given.frame.opening, given)


def planned(given: PlannerInput) -> Plan:
    """The planner's answer. Must-discuss topics that do not fit are in ``infeasible``; it orders the rest."""
    return planner.plan(given.items, given.frame)


def input_after(
    meeting: Meeting, latest: Order, *, order: Sequence[str] | None = None, also: Placement | None = None
) -> PlannerInput:
    """What the planner is given after a version: its opening, its factors, and its order or another one.

    ``also`` is a topic that waits for a yes.
    """
    rows = planner_input.asking(meeting)
    if also is not None and all(row.pk != also.pk for row in rows):
        rows += [row for row in planner_input.undecided(meeting) if row.pk == also.pk]
    return planner_input.of(
        meeting,
        order=orders.keys_of(latest) if order is None else order,
        placements=rows,
        opening=latest.opening,
        factors=orders.factors_of(latest),
    )


def after(
    meeting: Meeting,
    given: PlannerInput,
    latest: Order,
    *,
    now: dt.datetime,
    held: Collection[str] = (),
) -> Plan:
    """The plan that follows a version: minutes and what fits are worked out again, places stay.

    ``held`` are topics that this must not push out, as long as there is room for all of them. While the
    meeting is under way only what is left is planned, from this minute on: what was discussed keeps its box,
    and the running topic has its own from when it began.
    """
    plan = _after(meeting, given, latest, now=now)
    lost = {key for key in held if key in given.placements and plan.slot(key) is None}
    if not lost or plan.infeasible is not None:
        return plan
    kept = _after(meeting, given.holding(held), latest, now=now)
    return plan if kept.infeasible is not None else _as_ranked(kept, plan, given)


def _as_ranked(kept: Plan, plan: Plan, given: PlannerInput) -> Plan:
    """A plan in which topics were held in, with the reasons of their own ranks: they are no must-discuss."""
    musts = {item.key for item in given.items if item.must}

    def reason(slot: Slot) -> Reason:
        if slot.reason.code != "must" or slot.key in musts:
            return slot.reason
        other = plan.slot(slot.key)
        return other.reason if other else Reason(RANK_CODES[given.item(slot.key).rank])

    return replace(kept, slots=tuple(replace(slot, reason=reason(slot)) for slot in kept.slots))


def _after(meeting: Meeting, given: PlannerInput, latest: Order, *, now: dt.datetime) -> Plan:
    if meeting.state != Meeting.State.UNDER_WAY:
        return planned(given)
    previous = _as_it_went(meeting, orders.plan_of(latest))
    previous = replace(previous, slots=_in_order(previous.slots, given.frame.order))
    running = running_key(meeting)
    rest = planner.replan(
        given.items,
        given.frame,
        previous,
        now=minute_of(meeting, now),
        running=running if running in given.placements else None,
    )
    return _with_past(meeting, rest, previous)


def _in_order(slots: Sequence[Slot], order: Sequence[str]) -> tuple[Slot, ...]:
    """The slots with those of ``order`` in that order, and the others where they were."""
    place = {key: at for at, key in enumerate(order)}
    listed = iter(sorted((slot for slot in slots if slot.key in place), key=lambda slot: place[slot.key]))
    return tuple(next(listed) if slot.key in place else slot for slot in slots)


def running_key(meeting: Meeting) -> str | None:
    """The key of the topic that is being discussed."""
    return None if meeting.current_id is None else str(meeting.current_id)


def minute_of(meeting: Meeting, now: dt.datetime) -> int:
    """The minute of the meeting's rail at which ``now`` lies, from 0.

    The rail begins at the agreed time; for a meeting that began at another time of another day it begins when
    the meeting did.
    """
    base, length = meeting.starts_at, dt.timedelta(minutes=meeting.minutes)
    if meeting.began_at is not None and abs(meeting.began_at - base) > length:
        base = meeting.began_at
    return min(max(0, (now - base) // dt.timedelta(minutes=1)), meeting.minutes)


def ahead(meeting: Meeting, keys: Sequence[str]) -> tuple[str, ...]:
    """Those of ``keys`` that are still to come: undecided, and not being discussed."""
    waiting = meeting.placements.filter(outcome=Placement.Outcome.UNDECIDED).values_list("pk", flat=True)
    known = {str(pk) for pk in waiting} - {running_key(meeting)}
    return tuple(key for key in keys if key in known)


def _as_it_went(meeting: Meeting, plan: Plan) -> Plan:
    """The plan with the running topic at the minute it was really taken up."""
    if meeting.current is None or meeting.current.began_at is None:
        return plan
    began, running = minute_of(meeting, meeting.current.began_at), running_key(meeting)
    slots = tuple(
        replace(slot, start=began, end=began + slot.minutes) if slot.key == running else slot
        for slot in plan.slots
    )
    return replace(plan, slots=slots)


def _with_past(meeting: Meeting, rest: Plan, previous: Plan) -> Plan:
    """The plan with the boxes of what was discussed put before it, as they were."""
    done = {str(pk) for pk in meeting.placements.filter(outcome__in=HEARD).values_list("pk", flat=True)}
    past = tuple(slot for slot in previous.slots if slot.key in done)
    return replace(rest, slots=(*past, *rest.slots))
