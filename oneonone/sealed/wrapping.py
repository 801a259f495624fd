"""Data keys, and how they are stored: wrapped by a key-encryption key, bound to a person and a number.

A wrapped key is: version byte, length of the id of the key-encryption key, that id, nonce, ciphertext, tag.
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
PURPOSE = b"oneonone wrapped data key"


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
    name = kek.id.encode("ascii")
    head = bytes([VERSION, len(name)]) + name
    return head + encrypt(kek.secret, secret.reveal(), _associated(person_id, number, name))


def unwrap(keks: Sequence[KeyEncryptionKey], person_id: UUID, number: int, blob: bytes) -> DataKey:
    """The data key, by whichever of ``keks`` wrapped it, or CannotOpen."""
    name = wrapped_by(blob)
    for kek in keks:
        if kek.id == name:
            encoded = name.encode("ascii")
            box = blob[2 + len(encoded) :]
            secret = Secret(decrypt(kek.secret, box, _associated(person_id, number, encoded)))
            if len(secret) != KEY_BYTES:
                raise CannotOpen("payload")
            return DataKey(number, secret)
    raise CannotOpen("key")


def wrapped_by(blob: bytes) -> str:
    """The id of the key-encryption key that wrapped this key: what renewal looks for. Not authenticated."""
    if len(blob) < 2 or len(blob) < 2 + blob[1]:
        raise CannotOpen("shape")
    if blob[0] != VERSION:
        raise CannotOpen("version")
    try:
        return blob[2 : 2 + blob[1]].decode("ascii")
    except UnicodeDecodeError:
        raise CannotOpen("shape") from None


def _associated(person_id: UUID, number: int, kek_id: bytes) -> bytes:
    return associate(PURPOSE, bytes([VERSION]), person_id.bytes, number.to_bytes(4, "big"), kek_id)
