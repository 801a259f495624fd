"""The errors of this package. No message or attribute contains a key, a text, or a part of either."""

from __future__ import annotations

from typing import Literal

Reason = Literal["shape", "version", "key", "authenticity", "payload"]


class CannotOpen(Exception):  # reads as what happened where it is raised and caught
    """A blob does not open here. ``reason`` says at which step, for counting; the user sees one message for
    all of them.

    ``shape``: too short or cut. ``version``: made by a format this code does not know. ``key``: sealed under
    another key than the one at hand. ``authenticity``: changed, moved to another row, author or revision, or
    the wrong key. ``payload``: authentic, and not what this code seals.
    """

    def __init__(self, reason: Reason) -> None:
        super().__init__(reason)
        self.reason = reason


class CannotSeal(ValueError):
    """The payload is no JSON object, or too large. Nothing was sealed."""


class MalformedKeys(ValueError):
    """The key-encryption keys cannot be read. Names the line and what is accepted, never the key."""
