"""The order that people prepare against: issued, and made anew when a topic in it changes."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, MustDiscuss, Order, Placement
from oneonone.models.owed import Notice
from oneonone.selectors import plan as plans

from . import telling, versions
from .refusals import MustStays, NotNow
from .versions import touch


@transaction.atomic
def issue(*, meeting: Meeting, actor: Person | None, now: dt.datetime, by_starting: bool = False) -> Order:
    """Issue the order: from here on it is a version that people prepare against.

    By itself at its time (no actor), by hand at once, or by starting. An order that was issued before a
    move is kept to where it can be.
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
    meeting.refresh_from_db()
    latest = plans.latest_order(meeting)
    sheet = plans.sheet(meeting, order=plans.hand_order(meeting, latest))
    previous = None
    if latest is not None:
        previous = planner.from_json(latest.plan)
        sheet = versions.keeping(sheet)
    cause = Order.Cause.STARTED if by_starting else Order.Cause.ISSUED
    order = versions.append(meeting, sheet, sheet.plan(previous), cause=cause, actor=actor, now=now)
    Placement.objects.filter(meeting=meeting).update(is_late=False)
    if not by_starting:
        telling.both(meeting=meeting, kind=Notice.Kind.ISSUED, now=now, but=actor)
    return order


def changed(
    *,
    meeting: Meeting,
    actor: Person | None,
    now: dt.datetime,
    placement: Placement | None = None,
    reorder: bool = False,
) -> None:
    """A topic's minutes or importance changed, or it left: an issued order gets its next version.

    Every other topic of the order stays in it as long as that can be: what displaces something is asked for,
    not done by the way. ``placement`` is the topic that changed; it is the first to lose its place. The order
    of the topics stays too, unless they may ``reorder`` and no hand has chosen it. Refused: what leaves no
    room for the other side's must-discuss topic.
    """
    latest = plans.latest_order(meeting)
    if meeting.state not in versions.WITH_ORDER or latest is None:
        touch(meeting=meeting)
        return
    keys = versions.keys_of(latest)
    order = plans.hand_order(meeting, latest) if reorder else keys
    sheet = versions.keeping(plans.sheet(meeting, order=order, opening=latest.opening))
    plan = _holding(meeting, sheet, latest, placement, now=now)
    if placement is not None and plan.infeasible is not None and latest.plan["infeasible"] is None:
        side = None if actor is None else meeting.line.side_of(actor)
        if MustDiscuss.objects.waiting(meeting).exclude(side=side or "").exists():
            raise MustStays
    if _says_the_same(plan, planner.from_json(latest.plan)):
        # Nothing that people read has changed, and the last move can still be undone.
        touch(meeting=meeting)
    else:
        versions.append(meeting, sheet, plan, cause=Order.Cause.CHANGED, actor=actor, now=now)


def _says_the_same(plan: planner.Plan, then: planner.Plan) -> bool:
    """Whether every box, its length and why, and why each other topic is left out, are as they were."""
    boxes, before = (
        [(slot.key, slot.start, slot.end, slot.length) for slot in one.slots] for one in (plan, then)
    )
    said = (plan.relaxed, plan.shortage) == (then.relaxed, then.shortage)
    return said and boxes == before and set(plan.left_out) <= set(then.left_out)


def _holding(
    meeting: Meeting,
    sheet: plans.Sheet,
    latest: Order,
    placement: Placement | None,
    *,
    now: dt.datetime,
) -> planner.Plan:
    """The plan that follows a version, all of it held in, else all others, else what is worth keeping."""
    keys = set(versions.ahead(meeting, versions.keys_of(latest)))
    changed_key = "" if placement is None else str(placement.pk)
    for held in (keys, keys - {changed_key}):
        plan = versions.after(meeting, sheet.holding(held), latest, now=now)
        if plan.infeasible is None:
            return plan
    return versions.shown_after(meeting, sheet, latest, now=now)


def is_without_place(*, placement: Placement) -> bool:
    """Whether a topic still to come is left out of an order that people prepare against."""
    meeting = placement.meeting
    latest = plans.latest_order(meeting)
    if meeting.state not in versions.WITH_ORDER or latest is None or placement.began_at is not None:
        return False
    return str(placement.pk) not in versions.keys_of(latest)
