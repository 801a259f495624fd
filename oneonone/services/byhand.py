"""Topics moved by hand: the hand wins over the planner, and either side can take a move back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, Order, Placement
from oneonone.planner import Plan, PlannerRefusal
from oneonone.selectors import plan as plans

from . import versions
from .refusals import MustStays, NotNow, OutOfRange


@dataclass(frozen=True)
class Moved:
    """What a move by hand made: the new version, and the topics it pushed out of the meeting."""

    order: Order
    pushed_out: tuple[Placement, ...]


@transaction.atomic
def move(*, placement: Placement, places: int, actor: Person, now: dt.datetime) -> Moved:
    """Move a topic so many places later (earlier when negative). The hand wins over the planner.

    Refused: once the topic has begun, when it is not in the order, past a topic that it has to come after or
    before, and when it would push out what must be discussed.
    """
    meeting = placement.meeting
    if placement.outcome != Placement.Outcome.UNDECIDED or placement.began_at or not meeting.is_coming:
        raise NotNow
    latest = plans.latest_order(meeting) if meeting.state in versions.WITH_ORDER else None
    if latest is None:
        keys = plans.preview(meeting)[1].keys
    else:
        keys = versions.ahead(meeting, versions.keys_of(latest))
    key = str(placement.pk)
    if key not in keys:
        raise NotNow
    sheet = plans.sheet(
        meeting,
        order=_reordered(keys, key, places),
        opening=None if latest is None else latest.opening,
        strict=True,
    )
    plan = _planned(meeting, sheet, latest, now=now)
    written = versions.append(meeting, sheet, plan, cause=Order.Cause.MOVED, actor=actor, now=now)
    out = tuple(sheet.placements[k] for k in keys if plan.slot(k) is None and k in sheet.placements)
    return Moved(order=written, pushed_out=out)


def _planned(meeting: Meeting, sheet: plans.Sheet, latest: Order | None, *, now: dt.datetime) -> Plan:
    held = replace(sheet, frame=replace(sheet.frame, kappa=versions.KAPPA))
    try:
        if latest is None:
            plan = planner.plan(held.items, held.frame)
        else:
            plan = versions.after(meeting, held, latest, now=now)
    except PlannerRefusal:
        raise OutOfRange(
            field="places",
            accepted=_("A place behind the topics it comes after, and before those that come after it."),
        ) from None
    if plan.infeasible is not None:
        raise MustStays
    return plan


def _reordered(keys: Sequence[str], key: str, places: int) -> tuple[str, ...]:
    order = [other for other in keys if other != key]
    at = min(max(list(keys).index(key) + places, 0), len(order))
    order.insert(at, key)
    return tuple(order)


@transaction.atomic
def undo(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Order:
    """Take back the last move by hand, by either side: the version before it becomes the next one.

    Refused when anything else has changed the order since.
    """
    latest = plans.latest_order(meeting)
    if latest is None or latest.cause != Order.Cause.MOVED or not meeting.is_coming:
        raise NotNow
    before = meeting.orders.filter(number__lt=latest.number).order_by("-number").first()
    sheet = plans.sheet(meeting, opening=latest.opening)
    plan = sheet.plan() if before is None else planner.from_json(before.plan)
    return versions.append(meeting, sheet, plan, cause=Order.Cause.UNDONE, actor=actor, now=now)
