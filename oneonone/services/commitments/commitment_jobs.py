"""What falls due around commitments: they are carried on, and their owners are reminded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db.models import QuerySet

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Notice
from oneonone.models.followthrough import CommitmentCue
from oneonone.models.people import with_people
from oneonone.services.commitments import carry_targets, carrying
from oneonone.services.notices import notices
from oneonone.services.notices.job_queue import Job


def carry_on(meeting: Meeting, now: dt.datetime) -> None:
    carrying.carry(meeting=meeting, now=now)


def carry_all_on(meetings: Sequence[Meeting], now: dt.datetime) -> None:
    carrying.carry_all(meetings=meetings, now=now)


def aim(line: Line, now: dt.datetime) -> bool:
    return carry_targets.aim(line=line, now=now) > 0


def to_remind(now: dt.datetime) -> QuerySet[Commitment]:
    """Open commitments whose owner's last working day before the date has begun."""
    due = Commitment.objects.filter(remind_at__lte=now, state=Commitment.State.OPEN)
    return with_people(due.select_related("line"), "owner").order_by("remind_at", "id")


def remind(commitment: Commitment, now: dt.datetime) -> None:
    remind_all([commitment], now)


def remind_all(due: Sequence[Commitment], now: dt.datetime) -> None:
    """Owe each owner a reminder. A date that has changed since it was read has another reminder coming."""
    as_read = {one.pk: one.remind_at for one in due}
    still = Commitment.objects.select_for_update().filter(pk__in=as_read, state=Commitment.State.OPEN)
    claimed = {pk for pk, at in still.values_list("pk", "remind_at") if at == as_read[pk]}
    Commitment.objects.filter(pk__in=claimed).update(remind_at=None)
    notices.owe_all(
        [
            _owed(one, one.owner, f"date {one.current_date.isoformat()}", now)
            for one in due
            if one.pk in claimed and one.owner is not None and one.confirmed_at is not None
        ]
    )


def to_cue(now: dt.datetime) -> QuerySet[CommitmentCue]:
    """Cues whose day has begun."""
    due = CommitmentCue.objects.filter(remind_at__lte=now)
    return with_people(due.select_related("commitment__line"), "owner").order_by("remind_at", "id")


def cue(row: CommitmentCue, now: dt.datetime) -> None:
    """Remind the owner of a commitment that is open still; of one that is settled the cue is spent."""
    claimed = CommitmentCue.objects.filter(pk=row.pk, remind_at=row.remind_at).update(remind_at=None)
    commitment = row.commitment
    if claimed and commitment.owner_id == row.owner_id and commitment.state == Commitment.State.OPEN:
        notices.owe_all([_owed(commitment, row.owner, f"cue {row.on.isoformat()}", now)])


def _owed(commitment: Commitment, owner: Person, occurrence: str, now: dt.datetime) -> Notice:
    return Notice(
        kind=Notice.Kind.COMMITMENT,
        person=owner,
        subject=commitment.pk,
        occurrence=occurrence,
        line=commitment.line,
        commitment=commitment,
        owed_at=now,
    )


CARRY = Job("carry", carrying.due, carry_on, carry_all_on)
# A repair: every service that makes a meeting points what waits at it.
AIM = Job("aim", carry_targets.waiting, aim)
REMIND = Job("remind", to_remind, remind, remind_all)
CUE = Job("cue", to_cue, cue)
