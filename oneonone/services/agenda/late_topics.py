"""What asks for room after the order was issued: new topics, those it left out, and more minutes."""

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
from oneonone.selectors.agenda import order_changes, orders, planner_input, planning
from oneonone.selectors.agenda.planner_input import PlannerInput
from oneonone.services.notices import notices, proposals
from oneonone.services.refusals import NotNow, OutOfRange

from . import issuing, order_versions, placement_by_hand


@transaction.atomic
def bring_in(
    *, placement: Placement, actor: Person, now: dt.datetime, minute: int | None = None
) -> Plan | None:
    """Give a topic that has no place one by hand; ``minute`` is the one at which it is to begin, if any.

    Before issue the hand displaces what it has to, and can be undone. In an issued order a topic that
    displaces something waits for the other side's yes; then this gives the order it leads to, else None.
    Where the other side has not joined, nobody could say yes, and the hand displaces as before issue.
    Refused: as ``placement_by_hand.with_it_in`` refuses, and a start that is not the one which the other side
    has asked for.
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
    if not _can_be_asked(placement.meeting, actor):
        _asked_for(placement, Proposal.State.OPEN, *planner_input.SAID_NO).update(state=Proposal.State.LAPSED)
    elif placement.meeting.state in orders.WITH_ORDER and (latest := orders.latest(placement.meeting)):
        _given, plan = placement_by_hand.with_it_in(placement=placement, actor=actor, now=now, minute=minute)
        if order_changes.displaces(planner.difference(orders.plan_of(latest), plan), but=[str(placement.pk)]):
            ask(placement, actor=actor, now=now, payload={} if minute is None else {Proposal.START: minute})
            return plan
    placement_by_hand.bring_in(placement=placement, actor=actor, now=now, minute=minute)
    return None


def _asked_for(placement: Placement, *states: Proposal.State) -> QuerySet[Proposal]:
    return Proposal.objects.filter(placement=placement, kind=Proposal.Kind.LATE_TOPIC, state__in=states)


def _can_be_asked(meeting: Meeting, actor: Person) -> bool:
    side = meeting.line.side_of(actor)
    return side is not None and meeting.line.person_on(side.other) is not None


@transaction.atomic
def change_minutes(
    *, placement: Placement, wanted: int, least: int, actor: Person, now: dt.datetime
) -> Plan | None:
    """Ask other minutes for a topic. In an issued order, what pushes out another topic waits for a yes.

    Then the topic keeps the minutes it had, and this gives the order that a yes leads to; else None.
    """
    meeting, key = placement.meeting, str(placement.pk)
    before = (placement.minutes_wanted, placement.minutes_least)
    placement.minutes_wanted, placement.minutes_least = wanted, least
    placement.save(update_fields=["minutes_wanted", "minutes_least"])
    latest = orders.latest(meeting) if meeting.state in orders.WITH_ORDER else None
    if latest is not None and _can_be_asked(meeting, actor) and key in orders.keys_of(latest):
        plan = planning.after(meeting, planning.input_after(meeting, latest), latest, now=now)
        lost = set(planner.difference(orders.plan_of(latest), plan).pushed_out)
        ahead = set(planning.ahead(meeting, orders.keys_of(latest))) - {key}
        if lost & ahead and plan.infeasible is None:
            placement.minutes_wanted, placement.minutes_least = before
            placement.save(update_fields=["minutes_wanted", "minutes_least"])
            ask(
                placement,
                actor=actor,
                now=now,
                payload={Proposal.WANTED: wanted, Proposal.LEAST: least},
                is_late=False,
            )
            return plan
    issuing.changed(meeting=meeting, actor=actor, now=now, placement=placement)
    return None


@transaction.atomic
def take_late(*, placement: Placement, actor: Person | None, now: dt.datetime) -> Order | None:
    """Box a late topic from free minutes if that moves nothing; else it waits for the other side's yes.

    Gives the new version of the order, or None when it waits.
    """
    meeting = placement.meeting
    latest = orders.latest(meeting)
    if latest is None:
        return None
    given, box = _box_behind(meeting, placement, latest, now=now)
    if box is None:
        ask(placement, actor=placement.topic.raiser, now=now, payload={})
        return None
    kept = orders.plan_of(latest)
    joined = replace(
        kept,
        slots=(*kept.slots, box),
        left_out=tuple(out for out in kept.left_out if out.key != box.key),
    )
    return order_versions.append(meeting, given, joined, cause=Order.Cause.LATE, actor=actor, now=now)


def _box_behind(
    meeting: Meeting, placement: Placement, latest: Order, *, now: dt.datetime
) -> tuple[PlannerInput, Slot | None]:
    """A place for the topic behind the others while each of them keeps its box; None where there is none.

    The others are held in, each with just the minutes that it has.
    """
    boxes = {slot["key"]: slot for slot in latest.plan["slots"]}
    waiting, key = planning.ahead(meeting, tuple(boxes)), str(placement.pk)
    rows = [row for row in planner_input.undecided(meeting) if str(row.pk) in {*waiting, key}]
    given = planner_input.of(
        meeting,
        order=(*waiting, key),
        placements=rows,
        opening=latest.opening,
        factors=orders.factors_of(latest),
    )
    begin = _begin(meeting, latest, waiting, now=now)
    if begin >= meeting.minutes - given.frame.closing:
        return given, None
    items = tuple(
        item if item.key == key else replace(item, wanted=length, least=length, start=None)
        for item in given.items
        for length in [boxes[item.key]["end"] - boxes[item.key]["start"] if item.key != key else 0]
    )
    fixed = replace(given, items=items, frame=replace(given.frame, opening=begin)).holding(waiting)
    plan = planning.planned(fixed)
    for other in waiting:
        there = plan.slot(other)
        if there is None or there.start != boxes[other]["start"]:
            return given, None
    return given, plan.slot(key)


def _begin(meeting: Meeting, latest: Order, waiting: tuple[str, ...], *, now: dt.datetime) -> int:
    """The minute at which what is still to come begins."""
    boxes = {slot["key"]: slot for slot in latest.plan["slots"]}
    if waiting:
        return int(boxes[waiting[0]]["start"])
    if meeting.state != Meeting.State.UNDER_WAY:
        return latest.opening
    running = boxes.get(planning.running_key(meeting) or "")
    return max(planning.minute_of(meeting, now), latest.opening, int(running["end"]) if running else 0)


def ask(
    placement: Placement, *, actor: Person, now: dt.datetime, payload: dict[str, int], is_late: bool = True
) -> None:
    """Ask the other side to make room for a topic; what they declined, or was taken back, is asked anew.

    ``payload`` is the start or the minutes that are asked for, by the keys of ``Proposal``. Asked again with
    others, the last ones count. ``is_late`` is for a topic that has no place until the answer.
    """
    line = placement.meeting.line
    side = line.side_of(actor)
    if side is None:
        return
    if is_late:
        Placement.objects.filter(pk=placement.pk).update(is_late=True)
        placement.is_late = True
    _asked_for(placement, *planner_input.SAID_NO).update(state=Proposal.State.LAPSED)
    meeting = placement.meeting
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
        order_versions.touch(meeting=meeting)
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
    """The other side's answer to what displaces something. A yes makes room for it."""
    state = Proposal.State.ACCEPTED if accept else Proposal.State.DECLINED
    placement = proposal.placement
    if placement is None:
        raise NotNow
    proposals.end(proposal=proposal, state=state, by=actor, now=now)
    meeting = placement.meeting
    latest = orders.latest(meeting)
    if not accept or latest is None:
        order_versions.touch(meeting=meeting)
        return None
    if (minutes := proposal.minutes) is not None:
        placement.minutes_wanted, placement.minutes_least = minutes
        placement.save(update_fields=["minutes_wanted", "minutes_least"])
        given = planning.input_after(meeting, latest)
        plan = planning.after(meeting, given, latest, now=now)
    else:
        given, plan = placement_by_hand.with_it_in(
            placement=placement, actor=proposal.by, now=now, minute=proposal.start_minute
        )
        Placement.objects.filter(pk=placement.pk).update(
            is_in_by_hand=True, pinned_minute=proposal.start_minute
        )
    return order_versions.append(
        meeting, given, plan, cause=Order.Cause.LATE, actor=actor, now=now, placement=placement
    )


@transaction.atomic
def take_back(*, proposal: Proposal, actor: Person, now: dt.datetime) -> None:
    """Whoever asked for room asks no more: the topic stays without a place until it is asked for again.

    Refused: for whoever did not ask, and once it has been answered.
    """
    if proposal.kind != Proposal.Kind.LATE_TOPIC or proposal.meeting is None:
        raise NotNow
    proposals.take_back(proposal=proposal, actor=actor, now=now)
    order_versions.touch(meeting=proposal.meeting)
