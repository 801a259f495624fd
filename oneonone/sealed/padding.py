"""Padding, so that the length of a blob says little about the length of the text."""

from __future__ import annotations

from oneonone.sealed.errors import CannotOpen

STEP = 256
LENGTH_BYTES = 4


def pad(content: bytes) -> bytes:
    """The content behind its length, filled with zeros to the next multiple of 256 bytes."""
    framed = len(content).to_bytes(LENGTH_BYTES, "big") + content
    return framed + bytes(-len(framed) % STEP)


def unpad(padded: bytes) -> bytes:
    """What ``pad`` was given, or CannotOpen."""
    length = int.from_bytes(padded[:LENGTH_BYTES], "big")
    content = padded[LENGTH_BYTES : LENGTH_BYTES + length]
    if padded != pad(content) or len(content) != length:
        raise CannotOpen("payload")
    return content
