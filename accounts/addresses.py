"""E-mail addresses in the one form in which they are stored and compared."""

from __future__ import annotations

import contextlib


def normalise(typed: str) -> str:
    """Return the address trimmed, in lower case, with an internationalised domain in its ASCII form.

    ASCII on both sides of the comparison keeps SQLite, whose ``LOWER`` folds ASCII only, and PostgreSQL in
    step. A domain that has no ASCII form is left as typed; validation refuses it. Case is folded in the local
    part too: RFC 5321 section 2.4 allows it to matter, and warns that relying on that hampers delivery.
    """
    local, at, domain = typed.strip().rpartition("@")
    if not at:
        return domain.lower()
    with contextlib.suppress(UnicodeError):
        domain = domain.encode("idna").decode("ascii")
    return f"{local}@{domain}".lower()


def same(one: str, other: str) -> bool:
    """Whether two spellings name the same mailbox, as far as this server is concerned."""
    return normalise(one) == normalise(other)
