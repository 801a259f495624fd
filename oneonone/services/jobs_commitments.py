"""What falls due around commitments: they are carried on, and their owners are reminded."""

from __future__ import annotations

import datetime as dt

from django.db.models import QuerySet

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Notice
from oneonone.models.followthrough import CommitmentCue
from oneonone.models.people import with_people
from oneonone.services import carry, notices
from oneonone.services.jobs_queue import Job


def carry_on(meeting: Meeting, now: dt.datetime) -> None:
    carry.carry(meeting=meeting, now=now)


def aim(line: Line, now: dt.datetime) -> bool:
    return carry.aim(line=line, now=now) > 0


def to_remind(now: dt.datetime) -> QuerySet[Commitment]:
    """Open commitments whose owner's last working day before the date has begun."""
    due = Commitment.objects.filter(remind_at__lte=now, state=Commitment.State.OPEN)
    return with_people(due.select_related("line"), "owner").order_by("remind_at", "id")


def remind(commitment: Commitment, now: dt.datetime) -> None:
    claimed = Commitment.objects.filter(
        pk=commitment.pk, state=Commitment.State.OPEN, remind_at=commitment.remind_at
    ).update(remind_at=None)
    if claimed and commitment.owner is not None and commitment.confirmed_at is not None:
        _owe(commitment, commitment.owner, f"date {commitment.current_date.isoformat()}", now)


def to_cue(now: dt.datetime) -> QuerySet[CommitmentCue]:
    """Cues whose day has begun, of commitments that are still open."""
    due = CommitmentCue.objects.filter(remind_at__lte=now, commitment__state=Commitment.State.OPEN)
    return with_people(due.select_related("commitment__line"), "owner").order_by("remind_at", "id")


def cue(row: CommitmentCue, now: dt.datetime) -> None:
    claimed = CommitmentCue.objects.filter(pk=row.pk, remind_at=row.remind_at).update(remind_at=None)
    if claimed and row.commitment.owner_id == row.owner_id:
        _owe(row.commitment, row.owner, f"cue {row.on.isoformat()}", now)


def _owe(commitment: Commitment, owner: Person, occurrence: str, now: dt.datetime) -> None:
    notices.owe(
        kind=Notice.Kind.COMMITMENT,
        person=owner,
        subject=commitment.pk,
        occurrence=occurrence,
        line=commitment.line,
        commitment=commitment,
        now=now,
    )


CARRY = Job("carry", carry.due, carry_on)
AIM = Job("aim", carry.waiting, aim)
REMIND = Job("remind", to_remind, remind)
CUE = Job("cue", to_cue, cue)
