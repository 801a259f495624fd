"""The versions of a meeting's order: made by the planner, appended, never changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from django.db import IntegrityError, transaction
from django.db.models import F

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, Order, Placement
from oneonone.planner import Plan
from oneonone.selectors import plan as plans

from .refusals import NotNow

WITH_ORDER = (Meeting.State.ISSUED, Meeting.State.UNDER_WAY)
KAPPA = plans.KAPPA


def touch(*, meeting: Meeting) -> None:
    """Something on the page has changed: raise the counter that open pages follow."""
    Meeting.objects.filter(pk=meeting.pk).update(seq=F("seq") + 1)


def append(
    meeting: Meeting,
    sheet: plans.Sheet,
    plan: Plan,
    *,
    cause: Order.Cause,
    actor: Person | None,
    now: dt.datetime,
) -> Order:
    """Append the next version of the order. Refused: one that was made while another was being made."""
    numbers = Order.every.filter(meeting=meeting).order_by("-number").values_list("number", flat=True)
    order = Order(
        meeting=meeting,
        number=(numbers.first() or 0) + 1,
        cause=cause,
        by=actor,
        at=now,
        opening=sheet.frame.opening,
        closing=sheet.frame.closing,
        plan=planner.to_json(plan),
        factors={kind: int(100 * factor) for kind, factor in sheet.factors.items()},
        hand=_hand(meeting),
    )
    try:
        with transaction.atomic():
            order.save(force_insert=True)
    except IntegrityError:
        raise NotNow from None
    touch(meeting=meeting)
    return order


def _hand(meeting: Meeting) -> dict[str, int | None]:
    """What is fixed by hand now, as ``Order.hand`` keeps it."""
    rows = meeting.placements.filter(is_in_by_hand=True, outcome=Placement.Outcome.UNDECIDED)
    return {str(pk): minute for pk, minute in rows.values_list("pk", "pinned_minute")}


def take_hand_back(*, meeting: Meeting, to: Order | None) -> None:
    """Fix by hand what was so when a version was made, and nothing else; None is before there was any."""
    then = {} if to is None else to.hand
    for row in meeting.placements.filter(outcome=Placement.Outcome.UNDECIDED):
        key = str(row.pk)
        before = (key in then, then.get(key))
        if (row.is_in_by_hand, row.pinned_minute) != before:
            row.is_in_by_hand, row.pinned_minute = before
            row.save(update_fields=["is_in_by_hand", "pinned_minute"])


def keys_of(order: Order) -> tuple[str, ...]:
    """The topics of a version, first to last."""
    return tuple(slot["key"] for slot in order.plan["slots"])


def keeping(sheet: plans.Sheet) -> plans.Sheet:
    """The same sheet for a plan that leaves a version people prepared against as it is, where it can."""
    return sheet.keeping()


def after(meeting: Meeting, sheet: plans.Sheet, latest: Order, *, now: dt.datetime) -> Plan:
    """The plan that follows a version.

    While the meeting is under way only what is left is planned, from this minute on: what was discussed keeps
    its box, and the running topic has its own from when it began. When must-discuss topics are too long for
    what is left, it says so in ``infeasible``, as planning does.
    """
    previous = planner.from_json(latest.plan)
    if meeting.state != Meeting.State.UNDER_WAY:
        return planner.plan(sheet.items, sheet.frame, previous)
    previous = _as_it_went(meeting, previous)
    running = running_key(meeting)
    order = tuple(key for key in sheet.frame.order if key != running)
    rest = planner.replan(
        sheet.items,
        replace(sheet.frame, order=order),
        previous,
        now=minute_of(meeting, now),
        running=running if running in sheet.placements else None,
    )
    return _with_past(meeting, rest, previous)


def running_key(meeting: Meeting) -> str | None:
    """The key of the topic that is being discussed."""
    return None if meeting.current_id is None else str(meeting.current_id)


def minute_of(meeting: Meeting, now: dt.datetime) -> int:
    """The minute of the meeting's rail at which ``now`` lies, from 0."""
    return min(max(0, (now - meeting.minute_zero) // dt.timedelta(minutes=1)), meeting.minutes)


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
    heard = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)
    done = {str(pk) for pk in meeting.placements.filter(outcome__in=heard).values_list("pk", flat=True)}
    past = tuple(slot for slot in previous.slots if slot.key in done)
    return replace(rest, slots=(*past, *rest.slots))


def ahead(meeting: Meeting, keys: Sequence[str]) -> tuple[str, ...]:
    """Those of ``keys`` that are still to come: undecided, and not being discussed."""
    waiting = meeting.placements.filter(outcome=Placement.Outcome.UNDECIDED).values_list("pk", flat=True)
    known = {str(pk) for pk in waiting} - {running_key(meeting)}
    return tuple(key for key in keys if key in known)


def shown_after(meeting: Meeting, sheet: plans.Sheet, latest: Order, *, now: dt.datetime) -> Plan:
    """As ``after``, but with an order that people can read even when must-discuss topics are too long."""
    made = after(meeting, sheet, latest, now=now)
    if made.infeasible is None:
        return made
    if sheet.by_hand:
        return shown_after(meeting, sheet.yielding(), latest, now=now)
    shown = after(meeting, sheet.loosened(), latest, now=now)
    return replace(shown, infeasible=made.infeasible, shortage=made.shortage, ways_out=made.ways_out)
