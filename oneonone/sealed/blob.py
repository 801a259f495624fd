"""The encrypted private fields of one row, in one padded blob.

The blob is: version byte, number of the data key (4 bytes), nonce, ciphertext, tag. Table, row, author,
revision, key number and version are authenticated with it, so a blob copied to another row or author, or an
older one put back under a newer revision, does not open.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from oneonone.sealed.cipher import associate, decrypt, encrypt
from oneonone.sealed.errors import CannotOpen, CannotSeal
from oneonone.sealed.padding import pad, unpad
from oneonone.sealed.wrapping import DataKey

VERSION = 1
HEAD_BYTES = 5
MOST_BYTES = 1 << 20
PURPOSE = b"oneonone sealed payload"

Payload = dict[str, Any]


@dataclass(frozen=True)
class Where:
    """The row that a blob belongs to. ``revision`` is the row's write counter, stored beside the blob."""

    table: str
    row: UUID
    author: UUID
    revision: int


def seal(data_key: DataKey, where: Where, payload: Payload) -> bytes:
    """Seal a JSON object of at most 1 MiB. CannotSeal for anything else, before encrypting any of it."""
    number = data_key.number.to_bytes(4, "big")
    box = encrypt(data_key.secret, pad(_encode(payload)), _associated(where, number))
    return bytes([VERSION]) + number + box


def open_sealed(data_key: DataKey, where: Where, blob: bytes | memoryview) -> Payload:
    """The payload that was sealed with this key for this place, or CannotOpen."""
    sealed = bytes(blob)
    if key_number_of(sealed) != data_key.number:
        raise CannotOpen("key")
    plain = decrypt(data_key.secret, sealed[HEAD_BYTES:], _associated(where, sealed[1:HEAD_BYTES]))
    return _decode(unpad(plain))


def key_number_of(blob: bytes | memoryview) -> int:
    """The number of the data key that a blob asks for, among the reader's own.

    Not authenticated until the blob is opened.
    """
    head = bytes(blob[:HEAD_BYTES])
    if len(head) < HEAD_BYTES:
        raise CannotOpen("shape")
    if head[0] != VERSION:
        raise CannotOpen("version")
    return int.from_bytes(head[1:], "big")


def _associated(where: Where, number: bytes) -> bytes:
    return associate(
        PURPOSE,
        bytes([VERSION]),
        where.table.encode(),
        where.row.bytes,
        where.author.bytes,
        where.revision.to_bytes(8, "big"),
        number,
    )


def _encode(payload: Payload) -> bytes:
    # Raised "from None" throughout: the encoder's own errors quote what they could not encode.
    try:
        encoded = json.dumps(payload, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()
        kept = isinstance(payload, dict) and json.loads(encoded) == payload
    except (TypeError, ValueError, RecursionError):
        kept, encoded = False, b""
    if not kept:
        raise CannotSeal("The payload is no JSON object.") from None
    if len(encoded) > MOST_BYTES:
        raise CannotSeal(f"The payload has more than {MOST_BYTES} bytes.")
    return encoded


def _decode(content: bytes) -> Payload:
    try:
        payload = json.loads(content)
    except ValueError:
        raise CannotOpen("payload") from None
    if not isinstance(payload, dict):
        raise CannotOpen("payload")
    return payload
