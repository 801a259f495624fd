"""Topics that ask for a place after the order was issued: new ones, and those that it left out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, Order, Placement, Proposal
from oneonone.models.owed import Notice
from oneonone.planner import Plan, Slot
from oneonone.selectors import plan as plans

from . import byhand, notices, proposals, versions
from .refusals import NotNow, OutOfRange


@transaction.atomic
def bring_in(
    *, placement: Placement, actor: Person, now: dt.datetime, minute: int | None = None
) -> Plan | None:
    """Give a topic that has no place one by hand; ``minute`` is the one at which it is to begin, if any.

    Before issue the hand displaces what it has to, and can be undone. In an issued order a topic that
    displaces something waits for the other side's yes; then this gives the order it leads to, else None.
    Where the other side has not joined, nobody could say yes, and the hand displaces as before issue.
    Refused: when it has a place, when what must be discussed or was given a place by hand leaves no room,
    and a start at which it cannot begin, or that is not the one which the other side has asked for.
    """
    theirs = _asked_for(placement, Proposal.State.OPEN).exclude(by=actor)
    if (asked := theirs.first()) is not None:
        if minute not in (None, asked.start_minute):
            raise OutOfRange(
                field="minute",
                accepted=_("Left empty: the other side has asked for a place, and this answers them."),
            )
        answer_late(proposal=asked, accept=True, actor=actor, now=now)
        return None
    latest = plans.latest_order(placement.meeting)
    if not _can_be_asked(placement.meeting, actor):
        _asked_for(placement, Proposal.State.OPEN, *plans.SAID_NO).update(state=Proposal.State.LAPSED)
    elif placement.meeting.state in versions.WITH_ORDER and latest is not None:
        _sheet, plan = byhand.with_it_in(placement=placement, actor=actor, now=now, minute=minute)
        told = planner.difference(planner.from_json(latest.plan), plan, ())
        if told.pushed_out or told.trimmed or told.moved:
            ask(placement, actor=actor, now=now, minute=minute)
            return plan
    byhand.bring_in(placement=placement, actor=actor, now=now, minute=minute)
    return None


def _asked_for(placement: Placement, *states: Proposal.State) -> QuerySet[Proposal]:
    return Proposal.objects.filter(placement=placement, kind=Proposal.Kind.LATE_TOPIC, state__in=states)


def _can_be_asked(meeting: Meeting, actor: Person) -> bool:
    side = meeting.line.side_of(actor)
    return side is not None and meeting.line.person_on(side.other) is not None


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
        ask(placement, actor=placement.topic.raiser, now=now)
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


def ask(placement: Placement, *, actor: Person, now: dt.datetime, minute: int | None = None) -> None:
    """Ask the other side to make room for a topic; what they declined, or was taken back, is asked anew.

    ``minute`` is the start that is asked for with it. Asked again with another one, the last one counts.
    """
    line = placement.meeting.line
    side = line.side_of(actor)
    if side is None:
        return
    Placement.objects.filter(pk=placement.pk).update(is_late=True)
    placement.is_late = True
    _asked_for(placement, *plans.SAID_NO).update(state=Proposal.State.LAPSED)
    meeting = placement.meeting
    payload = {} if minute is None else {Proposal.START: minute}
    proposal, made = Proposal.objects.get_or_create(
        placement=placement,
        kind=Proposal.Kind.LATE_TOPIC,
        state=Proposal.State.OPEN,
        defaults={
            "line": line,
            "by": actor,
            "side": side,
            "meeting": meeting,
            "base_version": meeting.version,
            "at": now,
            "payload": payload,
        },
    )
    if proposal.by_id == actor.pk and proposal.payload != payload:
        Proposal.objects.filter(pk=proposal.pk).update(payload=payload)
        versions.touch(meeting=meeting)
    other = line.person_on(side.other)
    if made and other is not None:
        notices.owe(
            kind=Notice.Kind.PROPOSAL,
            person=other,
            subject=proposal.pk,
            occurrence=proposal.kind,
            line=line,
            meeting=meeting,
            now=now,
            at_once=notices.is_soon(meeting=meeting, now=now),
        )


@transaction.atomic
def answer_late(*, proposal: Proposal, accept: bool, actor: Person, now: dt.datetime) -> Order | None:
    """The other side's answer to a late topic that displaces something. A yes makes room for it."""
    state = Proposal.State.ACCEPTED if accept else Proposal.State.DECLINED
    if proposal.placement is None:
        raise NotNow
    proposals.end(proposal=proposal, state=state, by=actor, now=now)
    meeting = proposal.placement.meeting
    latest = plans.latest_order(meeting)
    if not accept or latest is None:
        versions.touch(meeting=meeting)
        return None
    placement = proposal.placement
    minute = proposal.start_minute
    sheet, plan = byhand.with_it_in(placement=placement, actor=proposal.by, now=now, minute=minute)
    Placement.objects.filter(pk=placement.pk).update(is_in_by_hand=True, pinned_minute=minute)
    return versions.append(meeting, sheet, plan, cause=Order.Cause.LATE, actor=actor, now=now)


@transaction.atomic
def take_back(*, proposal: Proposal, actor: Person, now: dt.datetime) -> None:
    """Whoever asked for room asks no more: the topic stays without a place until it is asked for again.

    Refused: for whoever did not ask, and once it has been answered.
    """
    if proposal.kind != Proposal.Kind.LATE_TOPIC or proposal.meeting is None:
        raise NotNow
    proposals.take_back(proposal=proposal, actor=actor, now=now)
    versions.touch(meeting=proposal.meeting)
