"""The order that people prepare against: issued, worked out again when a topic changes, put in order anew."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F

from accounts.models import Person
from oneonone.models import Meeting, MustDiscuss, Order, Placement
from oneonone.models.owed import Notice
from oneonone.planner import Plan
from oneonone.selectors.agenda import orders, planner_input, planning
from oneonone.services.notices import meeting_notices
from oneonone.services.refusals import InOrder, MustStays, NotNow

from . import order_versions
from .order_versions import touch


@transaction.atomic
def issue(*, meeting: Meeting, actor: Person | None, now: dt.datetime, by_starting: bool = False) -> Order:
    """Issue the order: from here on it is a version that people prepare against.

    Automatically at its time (no actor), by hand at once, or by starting. What the hand has chosen is kept,
    and an order that was issued before the meeting was moved.
    """
    changed = Meeting.objects.filter(pk=meeting.pk, state=Meeting.State.PLANNED).update(
        state=Meeting.State.ISSUED,
        issued_at=now,
        confirmed_at=meeting.confirmed_at or now,
        seq=F("seq") + 1,
        version=F("version") + 1,
    )
    if not changed:
        raise NotNow
    given = planner_input.of(meeting, order=orders.of(meeting).kept_order)
    meeting.refresh_from_db()
    cause = Order.Cause.STARTED if by_starting else Order.Cause.ISSUED
    order = order_versions.append(meeting, given, planning.planned(given), cause=cause, actor=actor, now=now)
    Placement.objects.filter(meeting=meeting).update(is_late=False)
    if not by_starting:
        meeting_notices.both(meeting=meeting, kind=Notice.Kind.ISSUED, now=now, but=actor)
    return order


@transaction.atomic
def put_in_order_anew(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Order:
    """Give up the order that stands, and let the rule find it again. Either side can undo it.

    Starts that were agreed and topics that somebody put in stay. Refused: once the meeting has begun, before
    there is an order to give up, and where nothing would move.
    """
    standing = planning.standing(meeting)
    latest = standing.versions.latest
    if latest is None or meeting.state not in (Meeting.State.PLANNED, Meeting.State.ISSUED):
        raise NotNow
    if meeting.state == Meeting.State.PLANNED:
        given = planner_input.of(meeting)
    else:
        given = planning.input_after(meeting, latest, order=())
    plan = planning.planned(given)
    if _boxes(plan) == _boxes(standing.plan):
        raise InOrder
    return order_versions.append(meeting, given, plan, cause=Order.Cause.REPLANNED, actor=actor, now=now)


def changed(
    *,
    meeting: Meeting,
    actor: Person | None,
    now: dt.datetime,
    placement: Placement | None = None,
) -> None:
    """A topic changed or left: minutes and what fits are worked out again in an issued order, places stay.

    No other topic of the order loses its place by it: what displaces something is asked for. ``placement`` is
    the topic that changed. Refused: what leaves no room for the other side's must-discuss topic.
    """
    latest = orders.latest(meeting) if meeting.state in orders.WITH_ORDER else None
    if latest is None:
        touch(meeting=meeting)
        return
    given = planning.input_after(meeting, latest)
    held = set(planning.ahead(meeting, orders.keys_of(latest))) - {str(placement.pk) if placement else ""}
    plan = planning.after(meeting, given, latest, now=now, held=held)
    then = orders.plan_of(latest)
    if placement is not None and plan.infeasible is not None and then.infeasible is None:
        side = None if actor is None else meeting.line.side_of(actor)
        if MustDiscuss.objects.waiting(meeting).exclude(side=side or "").exists():
            raise MustStays
    if _says_the_same(plan, then):
        # Nothing that people read has changed, and the last move can still be undone.
        touch(meeting=meeting)
    else:
        order_versions.append(meeting, given, plan, cause=Order.Cause.CHANGED, actor=actor, now=now)


def _says_the_same(plan: Plan, then: Plan) -> bool:
    """Whether every box is as it was, and no topic is left out that was not."""
    left, left_then = ({out.key for out in one.left_out} for one in (plan, then))
    same = _boxes(plan) == _boxes(then)
    return same and left <= left_then and plan.infeasible == then.infeasible


def _boxes(plan: Plan) -> list[tuple[str, int, int]]:
    return [(slot.key, slot.start, slot.end) for slot in plan.slots]


def is_without_place(*, placement: Placement) -> bool:
    """Whether a topic still to come is left out of an order that people prepare against."""
    meeting = placement.meeting
    if meeting.state not in orders.WITH_ORDER or placement.began_at is not None:
        return False
    latest = orders.latest(meeting)
    return latest is not None and str(placement.pk) not in orders.keys_of(latest)
