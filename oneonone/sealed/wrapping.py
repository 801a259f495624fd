"""Values encrypted with a key-encryption key: the data keys of people and short secrets of the server.

A locked value is: version byte, length of the id of the key-encryption key, that id, nonce, ciphertext, tag.
Its purpose is authenticated with it, so that a value locked for one purpose does not open for another.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from oneonone.sealed.cipher import KEY_BYTES, associate, decrypt, encrypt
from oneonone.sealed.errors import CannotOpen
from oneonone.sealed.keyring import KeyEncryptionKey
from oneonone.sealed.secret import Secret

VERSION = 1


@dataclass(frozen=True, eq=False)
class DataKey:
    """One person's key. ``number`` counts up from 1 for each person; the newest seals, every one opens."""

    number: int
    secret: Secret


def new_data_key() -> Secret:
    """A fresh random data key."""
    return Secret(os.urandom(KEY_BYTES))


def wrap(kek: KeyEncryptionKey, person_id: UUID, number: int, secret: Secret) -> bytes:
    """The data key as it may be stored. It unwraps for this person and this number only."""
    return _lock(kek, _of_person(person_id, number), secret)


def unwrap(keks: Sequence[KeyEncryptionKey], person_id: UUID, number: int, blob: bytes) -> DataKey:
    """The data key, by whichever of ``keks`` wrapped it, or CannotOpen."""
    secret = _unlock(keks, _of_person(person_id, number), blob)
    if len(secret) != KEY_BYTES:
        raise CannotOpen("payload")
    return DataKey(number, secret)


def lock(kek: KeyEncryptionKey, purpose: str, secret: Secret) -> bytes:
    """A short secret of the server's own as it may be stored. It unlocks for this purpose only."""
    return _lock(kek, _of_purpose(purpose), secret)


def unlock(keks: Sequence[KeyEncryptionKey], purpose: str, blob: bytes) -> Secret:
    """What ``lock`` was given, by whichever of ``keks`` locked it, or CannotOpen."""
    return _unlock(keks, _of_purpose(purpose), blob)


def wrapped_by(blob: bytes) -> str:
    """The id of the key-encryption key that locked this: what renewal looks for. Not authenticated."""
    if len(blob) < 2 or len(blob) < 2 + blob[1]:
        raise CannotOpen("shape")
    if blob[0] != VERSION:
        raise CannotOpen("version")
    try:
        return blob[2 : 2 + blob[1]].decode("ascii")
    except UnicodeDecodeError:
        raise CannotOpen("shape") from None


def _lock(kek: KeyEncryptionKey, use: tuple[bytes, ...], secret: Secret) -> bytes:
    name = kek.id.encode("ascii")
    head = bytes([VERSION, len(name)]) + name
    return head + encrypt(kek.secret, secret.reveal(), associate(*use, head))


def _unlock(keks: Sequence[KeyEncryptionKey], use: tuple[bytes, ...], blob: bytes) -> Secret:
    name = wrapped_by(blob)
    head, box = blob[: 2 + len(name)], blob[2 + len(name) :]
    for kek in keks:
        if kek.id == name:
            return Secret(decrypt(kek.secret, box, associate(*use, head)))
    raise CannotOpen("key")


def _of_person(person_id: UUID, number: int) -> tuple[bytes, ...]:
    return b"oneonone wrapped data key", person_id.bytes, number.to_bytes(4, "big")


def _of_purpose(purpose: str) -> tuple[bytes, ...]:
    return b"oneonone locked secret", purpose.encode()
