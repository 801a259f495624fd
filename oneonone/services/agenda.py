"""Topics in a meeting: placed, ordered and boxed, moved by hand, kept for next time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import F, Q

from accounts.models import Person
from oneonone import planner
from oneonone.models import Line, Meeting, MustDiscuss, Order, Placement, Proposal, Topic
from oneonone.models.owed import Notice
from oneonone.planner import Plan
from oneonone.selectors import coming as coming_selector
from oneonone.selectors import plan as plans

from . import notices, telling
from .refusals import MustStays, NotNow

_WITH_ORDER = (Meeting.State.ISSUED, Meeting.State.UNDER_WAY)
# What keeping a topic of the issued order is worth, and what two topics changing places costs: the
# planner's measured values for few moves at little loss.
KAPPA, MU = 3, 20


def touch(*, meeting: Meeting) -> None:
    """Something on the page has changed: raise the counter that open pages follow."""
    Meeting.objects.filter(pk=meeting.pk).update(seq=F("seq") + 1)


def longest_topic(*, line: Line, now: dt.datetime) -> int:
    """The most minutes a topic can ask for: what the next meeting has for topics, else 240."""
    meeting = coming_selector.earliest(line)
    return plans.longest_topic(meeting) if meeting is not None else 240


def place(*, topic: Topic, now: dt.datetime) -> Placement | None:
    """Put an open topic on the line's earliest coming meeting; None when there is none yet.

    The minutes asked are copied: what was asked at one meeting stays on its record.
    """
    meeting = coming_selector.earliest(topic.line)
    if meeting is None:
        return None
    placement, made = Placement.objects.get_or_create(
        topic=topic,
        meeting=meeting,
        defaults={
            "minutes_wanted": topic.minutes_wanted,
            "minutes_least": topic.minutes_least,
            "added_at": now,
            "is_late": meeting.state in _WITH_ORDER,
        },
    )
    if not made and placement.outcome != Placement.Outcome.UNDECIDED:
        placement.outcome = Placement.Outcome.UNDECIDED
        placement.is_late = meeting.state in _WITH_ORDER
        placement.minutes_wanted, placement.minutes_least = topic.minutes_wanted, topic.minutes_least
        placement.save(update_fields=["outcome", "is_late", "minutes_wanted", "minutes_least"])
    touch(meeting=meeting)
    return placement


@transaction.atomic
def gather(*, line: Line, now: dt.datetime) -> int:
    """Put every open topic that no meeting holds on the earliest coming one; how many were put there.

    A standing topic waits for its turn. Doing it twice changes nothing.
    """
    meeting = coming_selector.earliest(line)
    if meeting is None:
        return 0
    resting = (
        Topic.objects.filter(line=line, state=Topic.State.OPEN)
        .exclude(placements__outcome=Placement.Outcome.UNDECIDED)
        .exclude(placements__meeting=meeting)
        .order_by("created_at", "id")
    )
    count = 0
    for topic in resting:
        if topic.every_nth and not _is_its_turn(topic):
            continue
        placement = place(topic=topic, now=now)
        if placement is not None and placement.is_late:
            take_late(placement=placement, actor=None, now=now)
        count += 1
    return count


def _is_its_turn(topic: Topic) -> bool:
    """Whether a standing topic is due: so many meetings were held since it was last taken up."""
    last = (
        topic.placements.filter(outcome__in=(Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES))
        .select_related("meeting")
        .order_by("-meeting__held_on")
        .first()
    )
    if last is None or last.meeting.held_on is None or topic.every_nth is None:
        return True
    since = Meeting.objects.filter(
        line=topic.line_id, state=Meeting.State.CLOSED, held_on__gt=last.meeting.held_on
    )
    return since.count() + 1 >= topic.every_nth


def let_go(*, meeting: Meeting, now: dt.datetime) -> int:
    """Give up what a meeting has not decided: its topics stay open, and go to the next one."""
    MustDiscuss.objects.filter(meeting=meeting, placement__outcome=Placement.Outcome.UNDECIDED).delete()
    Proposal.objects.filter(placement__meeting=meeting, state=Proposal.State.OPEN).update(
        state=Proposal.State.LAPSED, answered_at=now
    )
    return Placement.objects.filter(meeting=meeting, outcome=Placement.Outcome.UNDECIDED).update(
        outcome=Placement.Outcome.UNHEARD
    )


def settle(*, placement: Placement, outcome: Placement.Outcome, now: dt.datetime) -> None:
    """Say what became of a topic. Discussed it is finished, unless it continues or comes back by itself."""
    changed = Placement.objects.filter(pk=placement.pk, outcome=Placement.Outcome.UNDECIDED).update(
        outcome=outcome, ended_at=now
    )
    if not changed:
        raise NotNow
    MustDiscuss.objects.filter(placement=placement).delete()
    if outcome == Placement.Outcome.DISCUSSED:
        Topic.objects.filter(pk=placement.topic_id, every_nth__isnull=True).update(
            state=Topic.State.FINISHED, changed_at=now, version=F("version") + 1
        )


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
        sheet = replace(sheet, frame=replace(sheet.frame, kappa=KAPPA, mu=MU))
    cause = Order.Cause.STARTED if by_starting else Order.Cause.ISSUED
    order = _write(meeting, sheet, sheet.plan(previous), cause=cause, actor=actor, now=now)
    Placement.objects.filter(meeting=meeting).update(is_late=False)
    if not by_starting:
        telling.both(meeting=meeting, kind=Notice.Kind.ISSUED, now=now, but=actor)
    return order


def _write(
    meeting: Meeting,
    sheet: plans.Sheet,
    plan: Plan,
    *,
    cause: Order.Cause,
    actor: Person | None,
    now: dt.datetime,
) -> Order:
    """Append the next version of the order."""
    latest = plans.latest_order(meeting)
    order = Order(
        meeting=meeting,
        number=1 if latest is None else latest.number + 1,
        cause=cause,
        by=actor,
        at=now,
        opening=sheet.frame.opening,
        closing=sheet.frame.closing,
        plan=planner.to_json(plan),
    )
    order.save(force_insert=True)
    touch(meeting=meeting)
    return order


def changed(*, meeting: Meeting, actor: Person | None, now: dt.datetime) -> None:
    """A topic's minutes changed, or it left: an issued order gets its next version, in the order it has."""
    latest = plans.latest_order(meeting)
    if meeting.state not in _WITH_ORDER or latest is None:
        touch(meeting=meeting)
        return
    keys = tuple(slot["key"] for slot in latest.plan["slots"])
    sheet = plans.sheet(meeting, order=keys, opening=latest.opening)
    sheet = replace(sheet, frame=replace(sheet.frame, kappa=KAPPA, mu=MU))
    plan = sheet.plan(planner.from_json(latest.plan))
    _write(meeting, sheet, plan, cause=Order.Cause.CHANGED, actor=actor, now=now)


@transaction.atomic
def take_late(*, placement: Placement, actor: Person | None, now: dt.datetime) -> Order | None:
    """Box a late topic from free minutes if that moves nothing; else it waits for the other side's yes.

    Gives the new version of the order, or None when it waits.
    """
    meeting = placement.meeting
    latest = plans.latest_order(meeting)
    if latest is None:
        return None
    key = str(placement.pk)
    slots = latest.plan["slots"]
    lengths = {slot["key"]: slot["end"] - slot["start"] for slot in slots}
    rows = [row for row in plans.undecided(meeting) if str(row.pk) in lengths or row.pk == placement.pk]
    sheet = plans.sheet(meeting, order=(*(k for k in lengths), key), placements=rows, opening=latest.opening)
    fixed = tuple(
        item
        if item.key == key
        else replace(item, must=True, wanted=lengths[item.key], least=lengths[item.key])
        for item in sheet.items
    )
    plan = planner.plan(fixed, sheet.frame)
    box = plan.slot(key)
    if box is None or any(
        (there := plan.slot(slot["key"])) is None or there.start != slot["start"]
        for slot in slots
        if slot["key"] in sheet.placements
    ):
        _ask(placement, actor=actor, now=now)
        return None
    kept = planner.from_json(latest.plan)
    joined = replace(
        kept,
        slots=(*kept.slots, box),
        left_out=tuple(out for out in kept.left_out if out.key != key),
    )
    return _write(meeting, sheet, joined, cause=Order.Cause.LATE, actor=actor, now=now)


def _ask(placement: Placement, *, actor: Person | None, now: dt.datetime) -> None:
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
            at_once=meeting.starts_at - now <= dt.timedelta(days=2),
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
    meeting = proposal.placement.meeting
    latest = plans.latest_order(meeting)
    if not accept or latest is None:
        touch(meeting=meeting)
        return None
    key = str(proposal.placement_id)
    order = tuple(slot["key"] for slot in latest.plan["slots"])
    sheet = plans.sheet(meeting, order=order, opening=latest.opening)
    items = tuple(replace(item, must=True) if item.key == key else item for item in sheet.items)
    sheet = replace(sheet, items=items, frame=replace(sheet.frame, kappa=KAPPA, mu=MU))
    plan = sheet.plan(planner.from_json(latest.plan))
    if plan.infeasible is not None:
        raise MustStays
    return _write(meeting, sheet, plan, cause=Order.Cause.LATE, actor=actor, now=now)


@dataclass(frozen=True)
class Moved:
    """What a move by hand made: the new version, and the topics it pushed out of the meeting."""

    order: Order
    pushed_out: tuple[Placement, ...]


@transaction.atomic
def move(*, placement: Placement, places: int, actor: Person, now: dt.datetime) -> Moved:
    """Move a topic so many places later (earlier when negative). The hand wins over the planner.

    Refused: once the topic has begun, and when it would push out what the other side must discuss.
    """
    meeting = placement.meeting
    if placement.outcome != Placement.Outcome.UNDECIDED or not meeting.is_coming:
        raise NotNow
    latest = plans.latest_order(meeting)
    if meeting.state in _WITH_ORDER and latest is not None:
        keys = [slot["key"] for slot in latest.plan["slots"]]
        opening: int | None = latest.opening
    else:
        keys = list(plans.preview(meeting)[1].keys)
        opening = None
    key = str(placement.pk)
    if key not in keys:
        raise NotNow
    order = _reordered(keys, key, places)
    sheet = plans.sheet(meeting, order=order, opening=opening)
    plan = planner.plan(sheet.items, replace(sheet.frame, kappa=KAPPA), _as_previous(latest, meeting))
    if plan.infeasible is not None:
        raise MustStays
    written = _write(meeting, sheet, plan, cause=Order.Cause.MOVED, actor=actor, now=now)
    out = tuple(sheet.placements[k] for k in keys if plan.slot(k) is None and k in sheet.placements)
    return Moved(order=written, pushed_out=out)


def _as_previous(latest: Order | None, meeting: Meeting) -> Plan | None:
    return planner.from_json(latest.plan) if latest is not None and meeting.state in _WITH_ORDER else None


def _reordered(keys: Sequence[str], key: str, places: int) -> tuple[str, ...]:
    order = [other for other in keys if other != key]
    at = min(max(keys.index(key) + places, 0), len(order))
    order.insert(at, key)
    return tuple(order)


@transaction.atomic
def undo(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Order:
    """Take back the last move by hand, by either side: the version before it becomes the next one."""
    latest = plans.latest_order(meeting)
    if latest is None or latest.cause != Order.Cause.MOVED or not meeting.is_coming:
        raise NotNow
    before = meeting.orders.filter(number__lt=latest.number).order_by("-number").first()
    sheet = plans.sheet(meeting, opening=latest.opening)
    plan = sheet.plan() if before is None else planner.from_json(before.plan)
    return _write(meeting, sheet, plan, cause=Order.Cause.UNDONE, actor=actor, now=now)


def check_may_leave(*, placement: Placement, actor: Person) -> None:
    """Refuse to take the running topic off the agenda, or one that the other side must discuss."""
    meeting = placement.meeting
    if meeting.current_id == placement.pk:
        raise NotNow
    side = meeting.line.side_of(actor)
    if MustDiscuss.objects.filter(placement=placement).filter(~Q(side=side)).exists():
        raise MustStays
