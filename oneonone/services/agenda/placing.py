"""Topics in a meeting: placed on its agenda, heard or not, kept for next time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID

from django.db import transaction
from django.db.models import F, Q
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Line, Meeting, MustDiscuss, Placement, Proposal, Topic
from oneonone.models.owed import Notice
from oneonone.selectors.agenda import frame, orders
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.services.commitments import carry_targets
from oneonone.services.notices import notices
from oneonone.services.refusals import MustStays, NotNow

from . import importance, late_topics
from .issuing import changed
from .order_versions import touch

_TAKEN_UP = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)


def longest_topic(*, line: Line, now: dt.datetime) -> int:
    """The most minutes a topic can ask for: what the next meeting has for topics, else 240."""
    meeting = coming_selector.earliest(line)
    return frame.longest_topic(meeting) if meeting is not None else 240


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
            "is_late": meeting.state in orders.WITH_ORDER,
        },
    )
    if not made and placement.outcome != Placement.Outcome.UNDECIDED:
        placement.outcome = Placement.Outcome.UNDECIDED
        placement.is_late = meeting.state in orders.WITH_ORDER
        placement.minutes_wanted, placement.minutes_least = topic.minutes_wanted, topic.minutes_least
        placement.pinned_minute, placement.is_in_by_hand = None, False
        placement.save()
    importance.keep_two_first(topic=topic, meeting=meeting)
    touch(meeting=meeting)
    return placement


def _must_again(placement: Placement) -> None:
    """A topic that had to be discussed at its last meeting, and was not reached, has to be at this one.

    Where a side has named another topic for this meeting, that one is its must.
    """
    last = (
        Placement.objects.filter(topic=placement.topic_id)
        .exclude(pk=placement.pk)
        .order_by("-meeting__starts_at", "-added_at")
        .prefetch_related("musts")
        .first()
    )
    if last is None or last.outcome != Placement.Outcome.UNHEARD:
        return
    for mark in last.musts.all():
        MustDiscuss.objects.get_or_create(
            meeting_id=placement.meeting_id, side=mark.side, defaults={"placement": placement}
        )


@transaction.atomic
def gather(*, line: Line, now: dt.datetime) -> int:
    """Put every open topic that no meeting holds on the earliest coming one; how many were put there.

    Topics of later meetings come along while the earliest one is not issued. A standing topic waits for its
    turn. Commitments that wait for a meeting appear at it too. Doing it twice changes nothing.
    """
    meeting = coming_selector.earliest(line)
    if meeting is None:
        return 0
    carry_targets.aim_at(meeting)
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
        if placement is not None:
            _must_again(placement)
            if placement.is_late:
                late_topics.take_late(placement=placement, actor=None, now=now)
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
            importance.keep_two_first(topic=placement.topic, meeting=meeting)
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
        topic.placements.filter(outcome__in=_TAKEN_UP)
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
    """Give up what a meeting has not decided: its topics stay open, and go to the next one.

    A topic that had to be discussed and was not reached keeps that mark here, and has it at the next one.
    """
    MustDiscuss.objects.filter(meeting=meeting, placement__outcome__in=_TAKEN_UP).delete()
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
    if outcome == Placement.Outcome.DISCUSSED:
        Topic.objects.filter(pk=placement.topic_id, every_nth__isnull=True).update(
            state=Topic.State.FINISHED, changed_at=now, version=F("version") + 1
        )


def keep_after_all(*, placement: Placement) -> None:
    """A topic that was left as discussed is kept for next time as well: one of the two wanted it so."""
    changed = Placement.objects.filter(pk=placement.pk, outcome=Placement.Outcome.DISCUSSED).update(
        outcome=Placement.Outcome.CONTINUES
    )
    if changed:
        _open_again(placement.topic_id)


def unsettle(*, placement: Placement) -> None:
    """A topic was not taken up after all: it waits at its meeting as before."""
    if placement.outcome == Placement.Outcome.DISCUSSED:
        _open_again(placement.topic_id)
    Placement.objects.filter(pk=placement.pk).update(
        outcome=Placement.Outcome.UNDECIDED, began_at=None, ended_at=None, minutes_planned=None
    )


def _open_again(topic_id: UUID) -> None:
    Topic.objects.filter(pk=topic_id, state=Topic.State.FINISHED).update(
        state=Topic.State.OPEN, version=F("version") + 1
    )


def nothing_is_late(*, meeting: Meeting, now: dt.datetime) -> None:
    """An order is still to be issued: topics that were late for the last one are placed with the others.

    What was asked about them needs no answer any more.
    """
    meeting.placements.filter(is_late=True).update(is_late=False)
    waiting = Proposal.objects.filter(
        meeting=meeting, kind=Proposal.Kind.LATE_TOPIC, state=Proposal.State.OPEN
    )
    for proposal in waiting:
        notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    waiting.update(state=Proposal.State.LAPSED, answered_at=now)


@transaction.atomic
def hear(*, meeting: Meeting, placements: Collection[UUID], actor: Person, now: dt.datetime) -> None:
    """Say afterwards that topics were discussed at this meeting.

    They may be on it, have been given up by it, or be waiting on another one, which then has them no more.
    Refused: one that is being discussed at another one.
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
            if elsewhere.meeting.current_id == elsewhere.pk:
                raise NotNow(field="discussed", accepted=_("Topics that are not being discussed just now."))
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
    """Take a topic off a meeting it has not been discussed at, with its marks and what was asked about it.

    Refused: one that was taken up, heard or given up since ``placement`` was read.
    """
    # Holds the meeting before the topic, as taking one up does, so that neither waits for the other for good.
    touch(meeting=placement.meeting)
    left = Placement.objects.filter(
        pk=placement.pk, outcome=Placement.Outcome.UNDECIDED, began_at=placement.began_at
    ).update(outcome=Placement.Outcome.WITHDRAWN)
    if not left:
        raise NotNow
    for proposal in Proposal.objects.filter(placement=placement, state=Proposal.State.OPEN):
        notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    Proposal.objects.filter(placement=placement, state=Proposal.State.OPEN).update(
        state=Proposal.State.WITHDRAWN, answered_at=now, answered_by=actor
    )
    MustDiscuss.objects.filter(placement=placement).delete()
    changed(meeting=placement.meeting, actor=actor, now=now)


def check_may_leave(*, placement: Placement, actor: Person) -> None:
    """Refuse to take the running topic off the agenda, or one that the other side must discuss."""
    meeting = placement.meeting
    if meeting.current_id == placement.pk:
        raise NotNow
    side = meeting.line.side_of(actor)
    if MustDiscuss.objects.filter(placement=placement).filter(~Q(side=side)).exists():
        raise MustStays
