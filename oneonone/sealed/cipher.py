"""AES-256-GCM with a random nonce, and associated data that can be read in one way only.

NIST SP 800-38D section 8.3 allows a key at most 2**32 seals with random 96-bit nonces. One person's data key,
or one key-encryption key over all people, stays below that by a factor of thousands.
"""

from __future__ import annotations

import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from oneonone.sealed.errors import CannotOpen
from oneonone.sealed.secret import Secret

KEY_BYTES = 32
NONCE_BYTES = 12
TAG_BYTES = 16


def encrypt(key: Secret, plain: bytes, associated: bytes) -> bytes:
    """Nonce, ciphertext and tag."""
    nonce = os.urandom(NONCE_BYTES)
    return nonce + AESGCM(key.reveal()).encrypt(nonce, plain, associated)


def decrypt(key: Secret, box: bytes, associated: bytes) -> bytes:
    """The plain bytes of what ``encrypt`` gave, or CannotOpen."""
    if len(box) < NONCE_BYTES + TAG_BYTES:
        raise CannotOpen("shape")
    nonce, rest = box[:NONCE_BYTES], box[NONCE_BYTES:]
    try:
        return AESGCM(key.reveal()).decrypt(nonce, rest, associated)
    except InvalidTag:
        raise CannotOpen("authenticity") from None


def associate(*parts: bytes) -> bytes:
    """Join parts so that no two different lists give the same bytes: each is preceded by its length.

    With a mere separator a part that contains it could be read as two, and a blob would open in another
    place.
    """
    return b"".join(len(part).to_bytes(4, "big") + part for part in parts)
