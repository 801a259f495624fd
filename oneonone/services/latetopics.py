"""Topics that come up after the order was issued."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from django.db import transaction

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, Order, Placement, Proposal
from oneonone.models.owed import Notice
from oneonone.planner import Slot
from oneonone.selectors import plan as plans

from . import notices, versions
from .refusals import MustStays, NotNow


@transaction.atomic
def take_late(*, placement: Placement, actor: Person | None, now: dt.datetime) -> Order | None:
    """Box a late topic from free minutes if that moves nothing; else it waits for the other side's yes.

    Gives the new version of the order, or None when it waits.
    """
    meeting = placement.meeting
    latest = plans.latest_order(meeting)
    if latest is None:
        return None
    sheet, box = _box_behind(meeting, placement, latest, now=now)
    if box is None:
        _ask(placement, now=now)
        return None
    kept = planner.from_json(latest.plan)
    joined = replace(
        kept,
        slots=(*kept.slots, box),
        left_out=tuple(out for out in kept.left_out if out.key != box.key),
    )
    return versions.append(meeting, sheet, joined, cause=Order.Cause.LATE, actor=actor, now=now)


def _box_behind(
    meeting: Meeting, placement: Placement, latest: Order, *, now: dt.datetime
) -> tuple[plans.Sheet, Slot | None]:
    """A place for the topic behind the others while each of them keeps its box; None where there is none."""
    boxes = {slot["key"]: slot for slot in latest.plan["slots"]}
    waiting = versions.ahead(meeting, tuple(boxes))
    key = str(placement.pk)
    rows = [row for row in plans.undecided(meeting) if str(row.pk) in {*waiting, key}]
    sheet = plans.sheet(meeting, order=(*waiting, key), placements=rows, opening=latest.opening)
    begin = _begin(meeting, latest, waiting, now=now)
    if begin >= sheet.frame.end:
        return sheet, None
    items = tuple(
        item if item.key == key else replace(item, must=True, wanted=length, least=length)
        for item in sheet.items
        for length in [boxes[item.key]["end"] - boxes[item.key]["start"] if item.key != key else 0]
    )
    plan = planner.plan(items, replace(sheet.frame, opening=begin))
    for other in waiting:
        there = plan.slot(other)
        if there is None or there.start != boxes[other]["start"]:
            return sheet, None
    return sheet, plan.slot(key)


def _begin(meeting: Meeting, latest: Order, waiting: tuple[str, ...], *, now: dt.datetime) -> int:
    """The minute at which what is still to come begins."""
    boxes = {slot["key"]: slot for slot in latest.plan["slots"]}
    if waiting:
        return int(boxes[waiting[0]]["start"])
    if meeting.state != Meeting.State.UNDER_WAY:
        return latest.opening
    running = boxes.get(versions.running_key(meeting) or "")
    return max(versions.minute_of(meeting, now), latest.opening, int(running["end"]) if running else 0)


def _ask(placement: Placement, *, now: dt.datetime) -> None:
    topic = placement.topic
    line = topic.line
    side = line.side_of(topic.raiser)
    if side is None:
        return
    meeting = placement.meeting
    proposal, made = Proposal.objects.get_or_create(
        placement=placement,
        kind=Proposal.Kind.LATE_TOPIC,
        state=Proposal.State.OPEN,
        defaults={
            "line": line,
            "by": topic.raiser,
            "side": side,
            "meeting": meeting,
            "base_version": meeting.version,
            "at": now,
        },
    )
    other = line.person_on(side.other)
    if made and other is not None:
        notices.owe(
            kind=Notice.Kind.PROPOSAL,
            person=other,
            subject=proposal.pk,
            line=line,
            meeting=meeting,
            now=now,
            at_once=notices.is_soon(meeting=meeting, now=now),
        )


@transaction.atomic
def answer_late(*, proposal: Proposal, accept: bool, actor: Person, now: dt.datetime) -> Order | None:
    """The other side's answer to a late topic that displaces something. A yes makes room for it."""
    state = Proposal.State.ACCEPTED if accept else Proposal.State.DECLINED
    done = Proposal.objects.filter(pk=proposal.pk, state=Proposal.State.OPEN).update(
        state=state, answered_by=actor, answered_at=now
    )
    if not done or proposal.placement is None:
        raise NotNow
    notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    meeting = proposal.placement.meeting
    latest = plans.latest_order(meeting)
    if not accept or latest is None:
        versions.touch(meeting=meeting)
        return None
    key = str(proposal.placement_id)
    sheet = versions.keeping(plans.sheet(meeting, order=versions.keys_of(latest), opening=latest.opening))
    items = tuple(replace(item, must=True) if item.key == key else item for item in sheet.items)
    sheet = replace(sheet, items=items)
    plan = versions.after(meeting, sheet, latest, now=now)
    if plan.infeasible is not None or plan.slot(key) is None:
        raise MustStays
    return versions.append(meeting, sheet, plan, cause=Order.Cause.LATE, actor=actor, now=now)
