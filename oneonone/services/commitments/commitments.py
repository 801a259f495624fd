"""Commitments: take on, confirm, decline, mark as done, drop, reopen."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Placement, Proposal, Side
from oneonone.models.followthrough import ACTION, HOW_KNOWN, CommitmentCue
from oneonone.models.owed import Notice
from oneonone.services import idempotency
from oneonone.services.commitments import due_dates, reminder_times
from oneonone.services.notices import notices
from oneonone.services.record import record
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange
from oneonone.services.text_limits import one_line


@transaction.atomic
def take_on(
    *,
    line: Line,
    owner_side: Side | str,
    action: str,
    how_known: str,
    date: dt.date,
    actor: Person,
    now: dt.datetime,
    meeting: Meeting | None = None,
    placement: Placement | None = None,
    cue_on: dt.date | None = None,
    client_key: UUID | None = None,
) -> Commitment:
    """Store who does what by when, and how both will know.

    A commitment typed for the actor's own side counts at once. One typed for the other side is *offered*
    until they confirm it. ``cue_on`` is the actor's own reminder day, as in ``duedates.set_cue``. With a
    ``meeting`` the commitment is also a line of its record. Refused: no action, a date in the past or more
    than five years ahead, a line that has ended, a meeting whose record can no longer be changed.
    """
    earlier = idempotency.result(
        actor=actor, client_key=client_key, act="commitments.take_on", model=Commitment
    )
    if earlier is not None:
        return earlier
    side = line.side_of(actor)
    if side is None or not line.is_open or line.start == Line.Start.ALONE:
        raise NotNow
    if owner_side not in Side.values:
        raise OutOfRange(field="owner_side", accepted=_("One of the two of you."))
    owner_side = Side(owner_side)
    if meeting is not None and meeting.line_id != line.pk:
        raise OutOfRange(field="meeting", accepted=_("A one-on-one of this line."))
    due_dates.check_date(date, actor=actor, now=now)
    owner = line.person_on(owner_side)
    commitment = Commitment(
        line=line,
        author=actor,
        owner=owner,
        owner_side=owner_side,
        action=one_line(action, field="action", most=ACTION),
        how_known=one_line(how_known, field="how_known", most=HOW_KNOWN, required=False),
        original_date=date,
        current_date=date,
        confirmed_at=now if owner_side == side else None,
        made_in=meeting,
        created_at=now,
        # There is no reminder of an offered commitment before its owner has confirmed it.
        remind_at=reminder_times.before_date(owner, date, now=now) if owner_side == side else None,
    )
    commitment.save(force_insert=True)
    if meeting is not None:
        record.take_down(meeting=meeting, commitment=commitment, placement=placement, actor=actor, now=now)
    if commitment.is_offered and owner is not None:
        _offer(commitment, owner, now)
    if cue_on is not None:
        due_dates.set_cue(commitment=commitment, on=cue_on, actor=actor, now=now)
    idempotency.done(
        actor=actor, client_key=client_key, act="commitments.take_on", subject=commitment.pk, now=now
    )
    return commitment


def _offer(commitment: Commitment, owner: Person, now: dt.datetime) -> None:
    notices.owe(
        kind=Notice.Kind.OFFERED,
        person=owner,
        subject=commitment.pk,
        line=commitment.line,
        commitment=commitment,
        now=now,
    )


@transaction.atomic
def confirm(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Confirm a commitment that the other side typed for the owner. Idempotent."""
    due_dates.check_owner(commitment, actor)
    changed = Commitment.objects.filter(
        pk=commitment.pk, state=Commitment.State.OPEN, confirmed_at__isnull=True
    ).update(
        confirmed_at=now,
        remind_at=reminder_times.before_date(actor, commitment.current_date, now=now),
        version=F("version") + 1,
    )
    commitment.refresh_from_db()
    if not changed and commitment.state != Commitment.State.OPEN:
        raise NotNow
    notices.cancel(kind=Notice.Kind.OFFERED, subject=commitment.pk, now=now)
    due_dates.touch(commitment)
    return commitment


@transaction.atomic
def decline(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Decline an offered commitment. Refused once it is confirmed."""
    due_dates.check_owner(commitment, actor)
    return _settle(commitment, Commitment.State.DROPPED, actor, now, cause="declined", offered=True)


@transaction.atomic
def withdraw(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Withdraw an offer. Refused: for anybody but its author, and once it is confirmed."""
    if commitment.author_id != actor.pk:
        raise NotAllowed
    return _settle(commitment, Commitment.State.DROPPED, actor, now, cause="withdrawn", offered=True)


@transaction.atomic
def done(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Mark a commitment as done. An offered one is confirmed by that as well."""
    due_dates.check_owner(commitment, actor)
    return _settle(commitment, Commitment.State.DONE, actor, now, cause="")


@transaction.atomic
def drop(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Drop a commitment. No reason is asked for: reasons are private, in the owner's plan."""
    due_dates.check_owner(commitment, actor)
    return _settle(commitment, Commitment.State.DROPPED, actor, now, cause="dropped")


@transaction.atomic
def reopen(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Undo *done* or *dropped*.

    Refused: a commitment that ended another way or by somebody else, and a line that has ended.
    """
    due_dates.check_owner(commitment, actor)
    if not commitment.line.is_open or commitment.settled_cause in ("declined", "withdrawn"):
        raise NotNow
    changed = Commitment.objects.filter(
        pk=commitment.pk, state__in=(Commitment.State.DONE, Commitment.State.DROPPED), settled_by=actor
    ).update(
        state=Commitment.State.OPEN,
        settled_at=None,
        settled_by=None,
        settled_cause="",
        remind_at=reminder_times.before_date(actor, commitment.current_date, now=now),
        version=F("version") + 1,
    )
    if not changed:
        raise NotNow
    commitment.refresh_from_db()
    due_dates.remind_of_cue(commitment=commitment, actor=actor, now=now)
    due_dates.touch(commitment)
    return commitment


@transaction.atomic
def adopt(*, line: Line, side: Side, person: Person, now: dt.datetime) -> int:
    """Offer to a person who has joined the commitments that were typed for their side.

    Returns how many.
    """
    waiting = Commitment.objects.filter(line=line, owner_side=side, owner__isnull=True)
    offered = list(waiting.filter(state=Commitment.State.OPEN).select_related("line"))
    waiting.update(owner=person)
    for commitment in offered:
        _offer(commitment, person, now)
    return len(offered)


def _settle(
    commitment: Commitment,
    state: Commitment.State,
    actor: Person,
    now: dt.datetime,
    *,
    cause: str,
    offered: bool = False,
) -> Commitment:
    """End an open commitment. Idempotent for the same end."""
    rows = Commitment.objects.filter(pk=commitment.pk, state=Commitment.State.OPEN)
    changes: dict[str, object] = {}
    if offered:
        rows = rows.filter(confirmed_at__isnull=True)
    elif commitment.confirmed_at is None:
        changes["confirmed_at"] = now
    changed = rows.update(
        state=state,
        settled_at=now,
        settled_by=actor,
        settled_cause=cause,
        remind_at=None,
        version=F("version") + 1,
        **changes,
    )
    commitment.refresh_from_db()
    if not changed:
        if commitment.state == state and commitment.settled_cause == cause:
            return commitment
        raise NotNow
    close_questions(commitment=commitment, now=now)
    due_dates.touch(commitment)
    return commitment


def close_questions(*, commitment: Commitment, now: dt.datetime) -> None:
    """End the notices, reminders and open proposals of a commitment that is settled."""
    notices.cancel(kind=Notice.Kind.OFFERED, subject=commitment.pk, now=now)
    notices.cancel(kind=Notice.Kind.COMMITMENT, subject=commitment.pk, now=now)
    notices.cancel(kind=Notice.Kind.CHOICE, subject=commitment.pk, now=now)
    CommitmentCue.objects.filter(commitment=commitment).update(remind_at=None)
    for proposal in Proposal.objects.filter(commitment=commitment, state=Proposal.State.OPEN):
        notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
        Proposal.objects.filter(pk=proposal.pk, state=Proposal.State.OPEN).update(
            state=Proposal.State.LAPSED, answered_at=now
        )
