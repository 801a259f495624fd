"""Encryption with the author's own key, which is created at the author's first private text.

Opening is a read, and stands with the reads in ``oneonone.selectors.private.keys``; its names are here too,
for services that read a row before they write it again.
"""

from __future__ import annotations

import base64
import datetime as dt
import functools

from django.db import IntegrityError, connection, transaction

from accounts.models import Person
from oneonone import sealed
from oneonone.models import PersonKey, Sealed
from oneonone.sealed.blob import Payload
from oneonone.selectors.private.keys import Opener, key_encryption_keys, open_for, unlock, where

__all__ = ["Held", "Opener", "data_key_for", "lock", "open_for", "seal_for", "unlock"]


def lock(purpose: str, text: str) -> str:
    """What is stored of a secret of the server's own: sealed under the newest key-encryption key.

    It opens for this purpose alone, so that what was stored in one row or for one use opens in no other.
    """
    blob = sealed.lock(key_encryption_keys()[0], purpose, sealed.Secret(text.encode()))
    return base64.b64encode(blob).decode("ascii")


def data_key_for(reader: Person, now: dt.datetime) -> sealed.DataKey:
    """The key that seals what ``reader`` writes from now on; made at their first private word."""
    # Locked until the transaction ends, so that renewal does not retire a key in use.
    row = _in_use(reader, hold=connection.in_atomic_block)
    if row is None:
        row = _first_key(reader, now)
    return sealed.unwrap(key_encryption_keys(), reader.pk, row.number, bytes(row.wrapped))


def seal_for(*, author: Person, row: Sealed, payload: Payload, now: dt.datetime) -> None:
    """Put the payload into ``row``, bound to its table, id and ``revision`` as they are now, and to the
    author.

    Raise ``row.revision`` before, at every change, and save blob, key number and revision together.
    """
    _seal(data_key_for(author, now), author, row, payload)


def _seal(key: sealed.DataKey, author: Person, row: Sealed, payload: Payload) -> None:
    row.blob = sealed.seal(key, where(author, row), payload)
    row.key_number = key.number


class Held(Opener):
    """Opens what one person wrote and seals it again, in one transaction, with their keys read once.

    They are held until the transaction ends, as in ``data_key_for``.
    """

    @functools.cached_property
    def _rows(self) -> list[PersonKey]:
        rows = PersonKey.objects.of(self._reader)
        return list(rows.select_for_update(no_key=True) if connection.in_atomic_block else rows)

    @functools.cached_property
    def _wrapped(self) -> dict[int, bytes]:
        return {row.number: bytes(row.wrapped) for row in self._rows}

    def seal(self, row: Sealed, payload: Payload, now: dt.datetime) -> None:
        """As ``seal_for``."""
        used = next((key for key in self._rows if key.retired_at is None), None)
        if used is None:
            used = _first_key(self._reader, now)
            self._wrapped[used.number] = bytes(used.wrapped)
        _seal(self._key(used.number), self._reader, row, payload)


def _in_use(person: Person, *, hold: bool = False) -> PersonKey | None:
    rows = PersonKey.objects.of(person).filter(retired_at__isnull=True)
    return (rows.select_for_update(no_key=True) if hold else rows).first()


def _first_key(person: Person, now: dt.datetime) -> PersonKey:
    """Make the next key of a person who has none in use.

    Of two concurrent calls the second uses the key of the first.
    """
    newest = PersonKey.objects.of(person).first()
    number = newest.number + 1 if newest else 1
    wrapped = sealed.wrap(key_encryption_keys()[0], person.pk, number, sealed.new_data_key())
    row = PersonKey(person=person, number=number, wrapped=wrapped, created_at=now)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        made_meanwhile = _in_use(person)
        if made_meanwhile is None:
            raise
        return made_meanwhile
    return row
