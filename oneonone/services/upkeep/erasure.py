"""Erasing a person: removes what they wrote and who they were, and keeps what others wrote.

The row stays with its id, so that meetings, orders and the other side's words keep their place. Removed are:
the person's name, address and ways in; every private row of theirs, and their keys, so that a private row in
a backup can be opened by nobody; and their words in what was shared, where *words removed on* takes their
place. A commitment that somebody else has confirmed as their own keeps its words, whoever typed them.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q

from accounts.models import Person
from accounts.services import leaving
from oneonone.models import (
    BusyTimes,
    ClientKey,
    Commitment,
    LegalHold,
    Line,
    Mail,
    MailWishes,
    Meeting,
    Notice,
    PersonKey,
    RecordAddition,
    RecordLine,
    Revision,
    Topic,
)
from oneonone.models.followthrough import CommitmentCue
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.private import key_usage
from oneonone.services import audit
from oneonone.services.commitments import commitments
from oneonone.services.lines import lines
from oneonone.services.record.record import WRITTEN, touch
from oneonone.services.refusals import ListNotKept, NotAllowed, NotNow, NotYourself, UnderHold
from oneonone.services.upkeep import erasure_list

LEFT = "left"


@transaction.atomic
def erase(*, person: Person, actor: Person, now: dt.datetime) -> None:
    """Erase ``person`` permanently, and add the person's id to the list outside the database.

    Refused: anybody but an administrator, oneself, somebody under a legal hold, somebody erased already, and
    where the list cannot be written.
    """
    if not actor.is_administrator:
        raise NotAllowed
    if person.pk == actor.pk:
        raise NotYourself
    _erase(person, actor=actor, now=now)
    entry = erasure_list.Entry(person=person.pk, by=actor.pk, at=now)
    try:
        erasure_list.append(settings.ERASURE_LIST, entry)
    except OSError:
        raise ListNotKept from None


@transaction.atomic
def apply(*, entry: erasure_list.Entry, now: dt.datetime) -> bool:
    """Erase again whom a restored backup has brought back; False for who is erased, or not here at all.

    Refused under a legal hold, as erasing is.
    """
    person = Person.objects.filter(pk=entry.person, erased_at__isnull=True).first()
    if person is None:
        return False
    actor = Person.objects.filter(pk=entry.by).first() or person
    _erase(person, actor=actor, now=now)
    return True


def pending(file: Path) -> list[UUID]:
    """Whom the list names and who is not erased here: what ``apply`` would do."""
    named = {entry.person for entry in erasure_list.read(file)}
    here = Person.objects.filter(pk__in=named, erased_at__isnull=True)
    return list(here.order_by("pk").values_list("pk", flat=True))


def _erase(person: Person, *, actor: Person, now: dt.datetime) -> None:
    claimed = Person.objects.filter(pk=person.pk, erased_at__isnull=True).update(is_active=False)
    if not claimed:
        raise NotNow
    if LegalHold.objects.filter(person=person, lifted_at__isnull=True).exists():
        raise UnderHold
    _leave_lines(person, actor=actor, now=now)
    _settle_commitments(person, actor=actor, now=now)
    _remove_words(person, now=now)
    _remove_private_rows(person)
    _empty_the_post(person, now=now)
    person.refresh_from_db()
    leaving.blank(person=person, now=now)
    audit.note(actor=actor, act="person erased", now=now, person=person)


def _leave_lines(person: Person, *, actor: Person, now: dt.datetime) -> None:
    today = line_calendar.local_day(now, person.zone)
    for line in Line.objects.open().with_side(person).select_related("manager", "report", "invitation"):
        lines.end(line=line, actor=actor, now=now, today=today)
    # A name that the person gave to somebody without an account is the person's text too.
    Line.objects.with_side(person).filter(Q(manager__isnull=True) | Q(report__isnull=True)).update(
        manager_name="", report_name=""
    )


def _settle_commitments(person: Person, *, actor: Person, now: dt.datetime) -> None:
    """Drop the commitments that have no owner any more, and offers that can no longer be answered."""
    offered = Q(author=person, confirmed_at__isnull=True)
    rows = Commitment.objects.filter(Q(owner=person) | offered, state=Commitment.State.OPEN)
    for commitment in rows.select_related("line"):
        Commitment.objects.filter(pk=commitment.pk).update(
            state=Commitment.State.DROPPED,
            settled_at=now,
            settled_by=actor,
            settled_cause=LEFT,
            remind_at=None,
            version=F("version") + 1,
        )
        commitments.close_questions(commitment=commitment, now=now)


def _remove_words(person: Person, *, now: dt.datetime) -> None:
    """Remove the person's text from shared rows and store the day."""
    gone = {"blob": None, "key_number": None, "removed_at": now, "version": F("version") + 1}
    here = {"removed_at__isnull": True}
    written = Q(record_lines__author=person) | Q(additions__author=person)
    touched = list(Meeting.objects.filter(written).distinct())
    Topic.objects.filter(raiser=person, **here).update(title="", detail="", changed_at=now, **gone)
    RecordLine.objects.filter(author=person, kind__in=WRITTEN, **here).update(
        words="", changed_at=now, **gone
    )
    RecordAddition.objects.filter(author=person, **here).update(words="", removed_at=now)
    taken_over = Q(confirmed_at__isnull=False) & Q(owner__isnull=False) & ~Q(owner=person)
    mine = Commitment.objects.filter(author=person, **here).exclude(taken_over)
    mine.update(action="", how_known="", **gone)
    Revision.objects.filter(by=person).update(reason="", basis="")
    Meeting.objects.filter(invited_by=person).update(invitation_words="")
    for meeting in touched:
        touch(meeting)


def _remove_private_rows(person: Person) -> None:
    for table in key_usage.sealed_tables():
        table.objects.of(person).delete()
    PersonKey.objects.of(person).delete()
    CommitmentCue.objects.filter(owner=person).delete()
    BusyTimes.objects.filter(owner=person).delete()


def _empty_the_post(person: Person, *, now: dt.datetime) -> None:
    """Cancel the person's notices and mails, and remove their address from old ones."""
    Notice.objects.filter(person=person, cancelled_at__isnull=True).update(cancelled_at=now)
    mine = Mail.objects.filter(Q(person=person) | Q(to_address__in=leaving.addresses_of(person)))
    mine.filter(state__in=(Mail.State.QUEUED, Mail.State.CLAIMED)).update(state=Mail.State.CANCELLED)
    mine.update(to_address="", subject="", body="")
    MailWishes.objects.filter(person=person).delete()
    ClientKey.objects.filter(person=person).delete()
