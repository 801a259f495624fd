"""Checks of an OpenID Connect provider's answer that the library does not do."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from typing import Any


class ForeignAnswer(ValueError):
    """The answer belongs to another request, or to two people."""


def check(claims: Mapping[str, Any], nonce: object) -> None:
    """Raise ForeignAnswer unless the claims answer the request that ``nonce`` was sent with.

    ``claims`` are those of the ID token and, where they were fetched, of the userinfo, each under its name.
    The nonce of the ID token is the one that was sent (OpenID Connect Core 1.0, 3.1.3.7, 11), and the subject
    of the userinfo is the ID token's (5.3.2).
    """
    token = claims.get("id_token") or {}
    said = token.get("nonce")
    if not (isinstance(nonce, str) and nonce and isinstance(said, str)):
        raise ForeignAnswer("without a nonce")
    if not secrets.compare_digest(said.encode(), nonce.encode()):
        raise ForeignAnswer("another nonce")
    if not token.get("sub"):
        raise ForeignAnswer("without a subject")
    if "userinfo" in claims and claims["userinfo"].get("sub") != token["sub"]:
        raise ForeignAnswer("two subjects")
