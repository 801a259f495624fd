"""Key-encryption keys and their text form: one a line in base64, the newest first.

The first key wraps, and all of them unwrap. A key stays in the list as long as a wrapped key or a backup
needs it.
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass

from oneonone.sealed.cipher import KEY_BYTES
from oneonone.sealed.errors import MalformedKeys
from oneonone.sealed.secret import Secret

ID_PATTERN = re.compile(r"[A-Za-z0-9._-]{1,32}")
ACCEPTED = f"one key a line, {KEY_BYTES} random bytes in base64, the newest first"


@dataclass(frozen=True, eq=False)
class KeyEncryptionKey:
    """A key that wraps data keys.

    ``id`` is public: it is in the header of every value that the key wrapped.
    """

    id: str
    secret: Secret

    def __post_init__(self) -> None:
        if not ID_PATTERN.fullmatch(self.id) or len(self.secret) != KEY_BYTES:
            raise MalformedKeys(f"A key-encryption key has a short ASCII id and {KEY_BYTES} bytes.")

    @classmethod
    def of(cls, secret: Secret) -> KeyEncryptionKey:
        """Return the key with its fingerprint as id, so that keys need no names.

        64 bits of SHA-256 over a purpose and the key: for a random key they do not help to find it.
        """
        return cls(hashlib.sha256(b"oneonone kek id" + secret.reveal()).hexdigest()[:16], secret)


def new_kek() -> KeyEncryptionKey:
    """A fresh random key-encryption key."""
    return KeyEncryptionKey.of(Secret(os.urandom(KEY_BYTES)))


def format_keks(keks: Iterable[KeyEncryptionKey]) -> str:
    """The text form. It is the secret itself: for a file of mode 0400 outside database and backup."""
    return "".join(f"{base64.b64encode(kek.secret.reveal()).decode('ascii')}\n" for kek in keks)


def parse_keks(text: str) -> tuple[KeyEncryptionKey, ...]:
    """Read the text form, newest first. Commas may stand for line ends, for use in an environment variable.

    Empty lines and lines that begin with ``#`` are skipped. Raises MalformedKeys, with the line number and
    without the line, for anything else; also when there is no key or a key comes twice.
    """
    keks: list[KeyEncryptionKey] = []
    for count, line in enumerate(text.replace(",", "\n").splitlines(), start=1):
        entry = line.strip()
        if entry and not entry.startswith("#"):
            keks.append(KeyEncryptionKey.of(_parse_line(entry, count)))
    if not keks:
        raise MalformedKeys(f"There is no key-encryption key. Accepted: {ACCEPTED}.")
    if len({kek.id for kek in keks}) != len(keks):
        raise MalformedKeys("The same key-encryption key comes twice. Accepted: each key once.")
    return tuple(keks)


def _parse_line(entry: str, count: int) -> Secret:
    try:
        # The URL-safe alphabet is what several generators print; both spell the same bytes.
        value = base64.b64decode(entry.translate(str.maketrans("-_", "+/")), validate=True)
    except (binascii.Error, ValueError):
        value = b""
    if len(value) != KEY_BYTES:
        raise MalformedKeys(f"Line {count} is no key-encryption key. Accepted: {ACCEPTED}.")
    return Secret(value)
