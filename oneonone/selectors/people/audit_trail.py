"""The audit trail for administrators, without user text."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Person
from oneonone.models import AuditEvent, Line, Side


@dataclass(frozen=True)
class Event:
    """One act. ``by`` is empty where nobody was signed in, ``about`` where it concerns nobody else.

    ``line`` names the two sides of the line it was done to.
    """

    at: dt.datetime
    act: str
    by: str
    about: str
    about_id: UUID | None
    line: tuple[str, str] | None
    facts: Mapping[str, object]


def events(reader: Person, *, about: UUID | None = None) -> QuerySet[AuditEvent]:
    """The acts, newest first; with ``about``, those by or about one person.

    Lines with somebody who is only a name are nobody else's business, and so is what was done to them.
    """
    if not reader.is_administrator:
        return AuditEvent.objects.none()
    alone = Line.objects.filter(start=Line.Start.ALONE)
    found = AuditEvent.objects.exclude(subject__isnull=False, subject__in=alone.values("pk"))
    if about is not None:
        found = found.filter(Q(actor=about) | Q(person=about))
    return found.select_related("actor", "person").order_by("-at", "-pk")


def as_kept(reader: Person, rows: Sequence[AuditEvent]) -> list[Event]:
    """These acts with the names they are about, in one more query."""
    if not reader.is_administrator:
        return []
    subjects = {row.subject for row in rows if row.subject is not None}
    lines = {
        line.pk: (line.name_on(Side.MANAGER), line.name_on(Side.REPORT))
        for line in Line.objects.filter(pk__in=subjects).select_related("manager", "report")
    }
    return [
        Event(
            at=row.at,
            act=row.act,
            by=row.actor.called if row.actor else "",
            about=row.person.called if row.person and row.person_id != row.actor_id else "",
            about_id=row.person_id,
            line=lines.get(row.subject) if row.subject else None,
            facts=row.facts,
        )
        for row in rows
    ]


def name_of(reader: Person, person_id: UUID | None) -> str:
    """The name of the person that a list of acts is about; empty for none."""
    if person_id is None:
        return ""
    person = Person.objects.visible_to(reader).filter(pk=person_id).first()
    return person.called if person else ""
