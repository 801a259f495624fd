"""What is owed to somebody is a row with a unique key: said once, whoever says it, however often."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID

from django.db import transaction

from accounts.models import Person
from oneonone import doorbell
from oneonone.models import Commitment, Line, Meeting, Notice
from oneonone.selectors.notices.notices import ASKS
from oneonone.services.refusals import NotAllowed

# What concerns a meeting this near does not wait for the digest of the next day.
AT_ONCE_WITHIN = dt.timedelta(days=2)
BATCH = 500


@transaction.atomic
def owe(
    *,
    kind: str,
    person: Person,
    subject: UUID,
    now: dt.datetime,
    line: Line | None = None,
    meeting: Meeting | None = None,
    commitment: Commitment | None = None,
    about: Person | None = None,
    schedule_version: int = 0,
    occurrence: str = "",
    at_once: bool = False,
    owed_at: dt.datetime | None = None,
    mailed: bool = False,
) -> Notice:
    """Owe a person one thing. Owed again with the same key, it is the same row and nothing changes.

    ``subject`` is the id of what it is about, ``occurrence`` which of several times; ``at_once`` asks for a
    mail of its own outside the day's digest. ``owed_at`` lets it wait for a later instant. ``about`` is
    somebody whom it is about where there is no line; with ``mailed`` a mail is owed for it already.
    """
    notice, made = Notice.objects.get_or_create(
        kind=kind,
        person=person,
        subject=subject,
        schedule_version=schedule_version,
        occurrence=occurrence,
        defaults={
            "line": line,
            "meeting": meeting,
            "commitment": commitment,
            "about": about,
            "mailed": mailed,
            "at_once": at_once,
            "owed_at": max(now, owed_at or now),
        },
    )
    if made:
        doorbell.ring()
    return notice


@transaction.atomic
def owe_all(owed: Collection[Notice]) -> None:
    """Owe many in one statement. Those that are owed already stay as they are."""
    if owed:
        Notice.objects.bulk_create(owed, ignore_conflicts=True, batch_size=BATCH)
        doorbell.ring()


def is_soon(*, meeting: Meeting | None, now: dt.datetime) -> bool:
    """Whether a notice about this meeting has to go at once to be of use."""
    return meeting is not None and meeting.is_coming and meeting.starts_at - now <= AT_ONCE_WITHIN


@transaction.atomic
def mark_read(*, notice: Notice, actor: Person, now: dt.datetime) -> Notice:
    """The person has read it, so it is no longer mailed. Read twice, the first time stays. Only one's own."""
    if notice.person_id != actor.pk:
        raise NotAllowed
    Notice.objects.filter(pk=notice.pk, read_at__isnull=True).update(read_at=now)
    notice.refresh_from_db()
    return notice


@transaction.atomic
def mark_all_read(*, actor: Person, now: dt.datetime) -> int:
    """Everything that this person is shown has been read. Returns how many notices that were.

    What waits for an answer stays until that is given, or it is put away alone.
    """
    shown = Notice.objects.filter(person=actor, read_at__isnull=True, owed_at__lte=now)
    return shown.exclude(kind__in=ASKS).update(read_at=now)


@transaction.atomic
def cancel(*, kind: str, subject: UUID, now: dt.datetime, person: Person | None = None) -> int:
    """Take back what is no longer owed: of everybody, or of one person. What was read already stays."""
    owed = Notice.objects.filter(kind=kind, subject=subject, read_at__isnull=True, cancelled_at__isnull=True)
    if person is not None:
        owed = owed.filter(person=person)
    return owed.update(cancelled_at=now)
