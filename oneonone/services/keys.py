"""Sealing for an author and opening for a reader, each with their own keys and nobody else's.

The key is chosen by who asks, never by whose row it is: a row of somebody else that a forgotten filter lets
through ends in ``CannotOpen``. Jobs and administrators are nobody's reader, so there is nothing they could
open.
"""

from __future__ import annotations

import datetime as dt
import functools
import logging

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import IntegrityError, transaction

from accounts.models import Person
from oneonone import sealed
from oneonone.models import PersonKey, Sealed
from oneonone.sealed.blob import Payload

log = logging.getLogger(__name__)


def data_key_for(reader: Person, now: dt.datetime) -> sealed.DataKey:
    """The key that seals what ``reader`` writes from now on; made at their first private word."""
    row = _in_use(reader)
    if row is None:
        row = _first_key(reader, now)
    return sealed.unwrap(_keks(), reader.pk, row.number, bytes(row.wrapped))


def seal_for(*, author: Person, row: Sealed, payload: Payload, now: dt.datetime) -> None:
    """Put the payload into ``row``, bound to its table, id and ``revision`` as they are now, and to the
    author.

    Raise ``row.revision`` before, at every change, and save blob, key number and revision together.
    """
    key = data_key_for(author, now)
    row.blob = sealed.seal(key, _where(author, row), payload)
    row.key_number = key.number


def open_for(reader: Person, row: Sealed) -> Payload:
    """What ``reader`` sealed in ``row``. CannotOpen for everything else, whoever owns the row."""
    return Opener(reader).open(row)


class Opener:
    """Opens any number of rows for one reader, and reads that reader's keys once, at the first of them."""

    def __init__(self, reader: Person) -> None:
        self._reader = reader

    @functools.cached_property
    def _wrapped(self) -> dict[int, bytes]:
        return {row.number: bytes(row.wrapped) for row in PersonKey.objects.of(self._reader)}

    def open(self, row: Sealed) -> Payload:
        """The payload, or CannotOpen, which is logged by table and id and shown as "cannot be opened"."""
        try:
            number = sealed.key_number_of(row.blob)
            if number not in self._wrapped:
                raise sealed.CannotOpen("key")
            key = sealed.unwrap(_keks(), self._reader.pk, number, self._wrapped[number])
            return sealed.open_sealed(key, _where(self._reader, row), row.blob)
        except sealed.CannotOpen as refusal:
            log.warning("cannot open %s %s: %s", row._meta.db_table, row.pk, refusal.reason)
            raise


def _where(person: Person, row: Sealed) -> sealed.Where:
    return sealed.Where(table=row._meta.db_table, row=row.pk, author=person.pk, revision=row.revision)


def _in_use(person: Person) -> PersonKey | None:
    return PersonKey.objects.of(person).filter(retired_at__isnull=True).first()


def _first_key(person: Person, now: dt.datetime) -> PersonKey:
    """Make the next key of a person who has none in use.

    Of two that make one at once the second takes the first's.
    """
    newest = PersonKey.objects.of(person).first()
    number = newest.number + 1 if newest else 1
    wrapped = sealed.wrap(_keks()[0], person.pk, number, sealed.new_data_key())
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


def _keks() -> tuple[sealed.KeyEncryptionKey, ...]:
    """The key-encryption keys of this server, newest first.

    Without one nothing is sealed, least of all in plain.
    """
    if settings.KEK is None:
        raise ImproperlyConfigured("There is no key-encryption key; see the check oneonone.E005.")
    return (sealed.KeyEncryptionKey.of(sealed.Secret(settings.KEK)),)
