"""The audit trail of people, lines and settings. Facts are ids, settings and days, never user text."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from accounts.models import Person
from oneonone.models import AuditEvent


def note(
    *,
    actor: Person | None,
    act: str,
    now: dt.datetime,
    subject: UUID | None = None,
    person: Person | None = None,
    facts: dict[str, str | int | bool | None] | None = None,
) -> AuditEvent:
    """Write an entry to the audit trail, in the transaction of the act."""
    return AuditEvent.objects.create(
        at=now, actor=actor, act=act, subject=subject, person=person, facts=facts or {}
    )
