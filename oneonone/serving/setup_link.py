"""The one-time link that makes the first administrator of an empty server.

The terminal shows the token once; the data folder keeps only its hash, so that reading a backup opens
nothing.
"""

import hashlib
import hmac
import secrets
from pathlib import Path

NAME = "setup_token"


def issue(folder: Path) -> str:
    """A fresh token; one issued before stops working. Shown once, to whoever started the server."""
    token = secrets.token_urlsafe(32)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    fresh = folder / f"{NAME}.new"
    fresh.touch(mode=0o600)
    fresh.write_text(_hash(token), encoding="ascii")
    fresh.replace(folder / NAME)
    return token


def check(folder: Path, token: str) -> bool:
    """Return whether `token` is the last one issued and unused. Checking does not use it up."""
    try:
        kept = (folder / NAME).read_text(encoding="ascii")
    except FileNotFoundError:
        return False
    return hmac.compare_digest(kept, _hash(token))


def consume(folder: Path, token: str) -> bool:
    """Use the token up. Returns True for exactly one of several concurrent calls."""
    if not check(folder, token):
        return False
    try:
        (folder / NAME).unlink()
    except FileNotFoundError:
        return False
    return True


def withdraw(folder: Path) -> None:
    """Remove the stored hash, so that no link works."""
    (folder / NAME).unlink(missing_ok=True)


def _hash(token: str) -> str:
    # The token is 256 random bits, so a plain hash cannot be guessed through.
    return hashlib.sha256(token.encode()).hexdigest()
