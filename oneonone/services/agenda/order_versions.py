"""The versions of a meeting's order: appended, never changed; taken back by another version."""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.db.models import F

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, Order, Placement
from oneonone.planner import Plan
from oneonone.selectors.agenda import orders, planning
from oneonone.selectors.agenda.planner_input import PlannerInput
from oneonone.services.refusals import NotNow


def touch(*, meeting: Meeting) -> None:
    """Something on the page has changed: raise the counter that open pages follow."""
    Meeting.objects.filter(pk=meeting.pk).update(seq=F("seq") + 1)


def append(
    meeting: Meeting,
    given: PlannerInput,
    plan: Plan,
    *,
    cause: Order.Cause,
    actor: Person | None,
    now: dt.datetime,
    placement: Placement | None = None,
    was_minute: int | None = None,
) -> Order:
    """Append the next version of the order. Refused: one that was made while another was being made.

    ``placement`` is the topic that was placed by hand, ``was_minute`` the one it began at before, if any.
    """
    newest = Order.every.filter(meeting=meeting).order_by("-number").values_list("number", flat=True)
    order = Order(
        meeting=meeting,
        number=(newest.first() or 0) + 1,
        cause=cause,
        by=actor,
        at=now,
        placement=placement,
        was_minute=was_minute,
        opening=given.frame.opening,
        closing=given.frame.closing,
        plan=planner.to_json(plan),
        factors={kind: int(100 * factor) for kind, factor in given.factors.items()},
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


@transaction.atomic
def undo(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Order:
    """Take back the last act by hand, by either side: the version before it becomes the next one.

    Starts and places that were set by it are given up. Refused when anything else has changed the order
    since.
    """
    latest = orders.latest(meeting)
    if latest is None or latest.cause not in orders.UNDOABLE or not meeting.is_coming:
        raise NotNow
    before = meeting.orders.filter(number__lt=latest.number).order_by("-number").first()
    take_hand_back(meeting, to=before)
    given = planning.input_after(meeting, latest, order=())
    plan = planning.planned(given) if before is None else orders.plan_of(before)
    return append(meeting, given, plan, cause=Order.Cause.UNDONE, actor=actor, now=now)


def take_hand_back(meeting: Meeting, *, to: Order | None) -> None:
    """Fix by hand what was so when a version was made, and nothing else; None is before there was any."""
    then = {} if to is None else to.hand
    for row in meeting.placements.filter(outcome=Placement.Outcome.UNDECIDED):
        key = str(row.pk)
        before = (key in then, then.get(key))
        if (row.is_in_by_hand, row.pinned_minute) != before:
            row.is_in_by_hand, row.pinned_minute = before
            row.save(update_fields=["is_in_by_hand", "pinned_minute"])
