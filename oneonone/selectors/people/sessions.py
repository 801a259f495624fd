"""What a session's row holds, opened: for the browser that sent its key, and for the list of one's own."""

from __future__ import annotations

import json
from typing import Any

from accounts.models import Session
from oneonone.selectors.private import keys

# Marks that are made as somebody signs in, and by the hour from then on (``oneonone.web.middleware``).
SIGNED_IN_AT, SEEN_AT, BROWSER, ADDRESS = "signed_in_at", "seen_at", "browser", "network_address"


def purpose(key_hash: str) -> str:
    """What a session's payload is sealed for: this row and no other."""
    return f"session {key_hash}"


def payload(row: Session) -> dict[str, Any]:
    """What is kept in the session. CannotOpen where it was sealed for another row, or by no key at hand."""
    held: dict[str, Any] = json.loads(keys.unlock(purpose(row.key_hash), row.payload))
    return held
