"""Opening sealed rows for a reader, with that reader's keys and nobody else's.

The key is chosen by the reader, never by the owner of the row. If a missing filter returns somebody else's
row, opening it raises ``CannotOpen``. Jobs and administrators have no reader, so they can open nothing.
"""

from __future__ import annotations

import base64
import functools
import logging

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from accounts.models import Person
from oneonone import sealed
from oneonone.models import PersonKey, Sealed
from oneonone.sealed.blob import Payload

log = logging.getLogger(__name__)

# What secrets of second factors are locked for.
SECOND_FACTOR = "second factor"
CannotOpen = sealed.CannotOpen


def open_for(reader: Person, row: Sealed) -> Payload:
    """What ``reader`` sealed in ``row``. CannotOpen for everything else, whoever owns the row."""
    return Opener(reader).open(row)


class Opener:
    """Opens any number of rows for one reader; that reader's keys are read and unwrapped once.

    Make one for each page: nothing of a key is kept beyond it.
    """

    def __init__(self, reader: Person) -> None:
        self._reader = reader
        self._keys: dict[int, sealed.DataKey] = {}

    @functools.cached_property
    def _wrapped(self) -> dict[int, bytes]:
        return {row.number: bytes(row.wrapped) for row in PersonKey.objects.of(self._reader)}

    def open(self, row: Sealed) -> Payload:
        """The payload, or CannotOpen, which is logged by table and id and shown as "cannot be opened"."""
        try:
            key = self._key(sealed.key_number_of(row.blob))
            return sealed.open_sealed(key, where(self._reader, row), row.blob)
        except sealed.CannotOpen as refusal:
            log.warning("cannot open %s %s: %s", row._meta.db_table, row.pk, refusal.reason)
            raise

    def _key(self, number: int) -> sealed.DataKey:
        if number not in self._keys:
            if number not in self._wrapped:
                raise sealed.CannotOpen("key")
            self._keys[number] = sealed.unwrap(
                key_encryption_keys(), self._reader.pk, number, self._wrapped[number]
            )
        return self._keys[number]


def where(person: Person, row: Sealed) -> sealed.Where:
    """The place that a row's blob is bound to, as ``person`` wrote it."""
    return sealed.Where(table=row._meta.db_table, row=row.pk, author=person.pk, revision=row.revision)


def unlock(purpose: str, stored: str) -> str:
    """What ``services.keys.lock`` was given for this purpose, or CannotOpen."""
    try:
        blob = base64.b64decode(stored, validate=True)
    except ValueError:
        raise CannotOpen("shape") from None
    return sealed.unlock(key_encryption_keys(), purpose, blob).reveal().decode()


def key_encryption_keys() -> tuple[sealed.KeyEncryptionKey, ...]:
    """The key-encryption keys of this server, newest first.

    Without one nothing is sealed, least of all in plain.
    """
    if not settings.KEK_TEXT:
        raise ImproperlyConfigured("There is no key-encryption key; see the check oneonone.E005.")
    return _parsed(settings.KEK_TEXT)


@functools.lru_cache(maxsize=1)
def _parsed(text: str) -> tuple[sealed.KeyEncryptionKey, ...]:
    return sealed.parse_keks(text)
