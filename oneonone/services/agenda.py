"""Topics in a meeting: placed, ordered and boxed, moved by hand, kept for next time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID

from django.db import transaction
from django.db.models import F, Q

from accounts.models import Person
from oneonone import planner
from oneonone.models import Line, Meeting, MustDiscuss, Order, Placement, Proposal, Topic
from oneonone.models.owed import Notice
from oneonone.selectors import coming as coming_selector
from oneonone.selectors import plan as plans

from . import notices, telling, versions
from .byhand import Moved, begin_at, move, move_before, undo
from .latetopics import answer_late, bring_in, take_late
from .refusals import MustStays, NotNow
from .versions import touch

__all__ = [
    "Moved",
    "answer_late",
    "begin_at",
    "bring_in",
    "changed",
    "check_may_leave",
    "gather",
    "hear",
    "is_without_place",
    "issue",
    "leave",
    "let_go",
    "longest_topic",
    "move",
    "move_before",
    "place",
    "settle",
    "take_late",
    "touch",
    "undo",
]


_TAKEN_UP = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)


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
            "is_late": meeting.state in versions.WITH_ORDER,
        },
    )
    if not made and placement.outcome != Placement.Outcome.UNDECIDED:
        placement.outcome = Placement.Outcome.UNDECIDED
        placement.is_late = meeting.state in versions.WITH_ORDER
        placement.minutes_wanted, placement.minutes_least = topic.minutes_wanted, topic.minutes_least
        placement.pinned_minute, placement.is_in_by_hand = None, False
        placement.save()
    touch(meeting=meeting)
    return placement


@transaction.atomic
def gather(*, line: Line, now: dt.datetime) -> int:
    """Put every open topic that no meeting holds on the earliest coming one; how many were put there.

    Topics of later meetings come along while the earliest one is not issued. A standing topic waits for its
    turn. Doing it twice changes nothing.
    """
    meeting = coming_selector.earliest(line)
    if meeting is None:
        return 0
    count = _pull_forward(meeting, now=now)
    resting = (
        Topic.objects.filter(line=line, state=Topic.State.OPEN)
        .exclude(placements__outcome=Placement.Outcome.UNDECIDED)
        .exclude(placements__in=Placement.objects.filter(meeting=meeting, outcome__in=_TAKEN_UP))
        .order_by("created_at", "id")
    )
    for topic in resting:
        if topic.every_nth and not _is_its_turn(topic):
            continue
        placement = place(topic=topic, now=now)
        if placement is not None and placement.is_late:
            take_late(placement=placement, actor=None, now=now)
        count += 1
    return count


def _pull_forward(meeting: Meeting, *, now: dt.datetime) -> int:
    """Move undecided topics of later meetings that are not issued here, with their marks.

    An issued order is left alone, whichever of the two it belongs to: people prepare against it.
    """
    if meeting.state != Meeting.State.PLANNED:
        return 0
    later = (
        Placement.objects.filter(
            meeting__line=meeting.line_id,
            meeting__state=Meeting.State.PLANNED,
            outcome=Placement.Outcome.UNDECIDED,
        )
        .exclude(meeting=meeting)
        .select_related("meeting", "topic__line")
    )
    count = 0
    for placement in later:
        touch(meeting=placement.meeting)
        marked = set(MustDiscuss.objects.filter(meeting=meeting).values_list("side", flat=True))
        placement.musts.filter(side__in=marked).delete()
        before = Placement.objects.filter(topic=placement.topic_id, meeting=meeting).first()
        if before is None:
            placement.musts.update(meeting=meeting)
            Placement.objects.filter(pk=placement.pk).update(
                meeting=meeting, pinned_minute=None, is_in_by_hand=False
            )
        else:
            # The place it had here before asks for time again.
            placement.musts.update(meeting=meeting, placement=before)
            Placement.objects.filter(pk=placement.pk).update(outcome=Placement.Outcome.WITHDRAWN)
            place(topic=placement.topic, now=now)
        count += 1
    if count:
        touch(meeting=meeting)
    return count


def _is_its_turn(topic: Topic) -> bool:
    """Whether a standing topic is due: so many meetings were held since it was last taken up.

    One that was discussed and is to continue is due at once.
    """
    last = (
        topic.placements.filter(outcome__in=(Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES))
        .select_related("meeting")
        .order_by("-meeting__held_on")
        .first()
    )
    if last is None or last.meeting.held_on is None or topic.every_nth is None:
        return True
    if last.outcome == Placement.Outcome.CONTINUES:
        return True
    since = Meeting.objects.filter(
        line=topic.line_id, state=Meeting.State.CLOSED, held_on__gt=last.meeting.held_on
    )
    return since.count() + 1 >= topic.every_nth


def let_go(*, meeting: Meeting, now: dt.datetime) -> int:
    """Give up what a meeting has not decided: its topics stay open, and go to the next one."""
    MustDiscuss.objects.filter(meeting=meeting, placement__outcome=Placement.Outcome.UNDECIDED).delete()
    waiting = Proposal.objects.filter(placement__meeting=meeting, state=Proposal.State.OPEN)
    for proposal in waiting:
        notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    waiting.update(state=Proposal.State.LAPSED, answered_at=now)
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
def hear(*, meeting: Meeting, placements: Collection[UUID], actor: Person, now: dt.datetime) -> None:
    """Say afterwards that topics were discussed at this meeting.

    They may be on it, have been given up by it, or be waiting on another one, which then has them no more.
    """
    here = Q(meeting=meeting, outcome__in=(Placement.Outcome.UNDECIDED, Placement.Outcome.UNHEARD))
    waiting = Q(outcome=Placement.Outcome.UNDECIDED, meeting__in=Meeting.objects.coming())
    said = Placement.objects.filter(
        here | waiting, pk__in=placements, topic__line=meeting.line_id, topic__state=Topic.State.OPEN
    )
    for placement in said.select_related("topic"):
        elsewhere = (
            Placement.objects.filter(topic=placement.topic_id, outcome=Placement.Outcome.UNDECIDED)
            .exclude(meeting=meeting)
            .select_related("meeting")
            .first()
        )
        if elsewhere is not None:
            leave(placement=elsewhere, actor=actor, now=now)
        heard, _made = Placement.objects.update_or_create(
            topic=placement.topic,
            meeting=meeting,
            defaults={"outcome": Placement.Outcome.UNDECIDED},
            create_defaults={
                "minutes_wanted": placement.minutes_wanted,
                "minutes_least": placement.minutes_least,
                "added_at": now,
            },
        )
        settle(placement=heard, outcome=Placement.Outcome.DISCUSSED, now=now)


def leave(*, placement: Placement, actor: Person, now: dt.datetime) -> None:
    """Take a topic off a meeting it has not been discussed at, with its marks and what was asked about it."""
    for proposal in Proposal.objects.filter(placement=placement, state=Proposal.State.OPEN):
        notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    Proposal.objects.filter(placement=placement, state=Proposal.State.OPEN).update(
        state=Proposal.State.WITHDRAWN, answered_at=now, answered_by=actor
    )
    MustDiscuss.objects.filter(placement=placement).delete()
    Placement.objects.filter(pk=placement.pk).update(outcome=Placement.Outcome.WITHDRAWN)
    changed(meeting=placement.meeting, actor=actor, now=now)


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
        if MustDiscuss.objects.filter(meeting=meeting).exclude(side=side or "").exists():
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


def check_may_leave(*, placement: Placement, actor: Person) -> None:
    """Refuse to take the running topic off the agenda, or one that the other side must discuss."""
    meeting = placement.meeting
    if meeting.current_id == placement.pk:
        raise NotNow
    side = meeting.line.side_of(actor)
    if MustDiscuss.objects.filter(placement=placement).filter(~Q(side=side)).exists():
        raise MustStays
