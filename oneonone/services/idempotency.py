"""An act that comes with a client key is done once: the same key again gets the same row back.

Inside the transaction of a service, first ``result``, last ``done``::

    earlier = idempotency.result(actor=actor, client_key=client_key, act="topics.add", model=Topic)
    if earlier is not None:
        return earlier
    topic = ...
    idempotency.done(actor=actor, client_key=client_key, act="topics.add", subject=topic.pk, now=now)

An act that is refused leaves no key behind, so the same form can be sent again once it is mended.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import TypeVar
from uuid import UUID

from django.db import connection
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from oneonone.models import ClientKey, Row, Sealed
from oneonone.services.refusals import OutOfRange

RowT = TypeVar("RowT", bound=Row)


def result(*, actor: Person, client_key: UUID | None, act: str, model: type[RowT]) -> RowT | None:
    """The row that this person's act with this key made, or None when it is still to be done.

    Held in a transaction, which keeps a second sender of the same key waiting until the first has committed.
    Refused: a key that was used for another act.
    """
    if client_key is None:
        return None
    _wait_for_the_same_key(actor.pk, client_key)
    used = ClientKey.objects.filter(person=actor, key=client_key).first()
    if used is None:
        return None
    if used.act != act or used.subject is None:
        raise OutOfRange(field="client_key", accepted=_("A new key for every act."))
    rows = model.objects.of(actor) if issubclass(model, Sealed) else model._default_manager.all()
    found: RowT = rows.get(pk=used.subject)
    return found


def done(*, actor: Person, client_key: UUID | None, act: str, subject: UUID, now: dt.datetime) -> None:
    """Keep that the act with this key has made the row ``subject``. Without a key nothing is kept."""
    if client_key is not None:
        ClientKey.objects.create(person=actor, key=client_key, act=act, subject=subject, at=now)


def _wait_for_the_same_key(person: UUID, key: UUID) -> None:
    """Serialise acts with the same key until the transaction ends.

    A transaction of SQLite is alone from its start; PostgreSQL takes an advisory lock, whose number is made
    from both ids. Two keys that share a number only wait for each other.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("idempotency.result() belongs into the transaction of the act, and there is none")
    if connection.vendor == "postgresql":
        digest = hashlib.sha256(person.bytes + key.bytes).digest()
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [int.from_bytes(digest[:8], signed=True)])
