"""The secrets of second factors as they are stored: locked by the key-encryption key, never in plain.

They belong to the server, which has to compute the same codes as the app, so they are not under a person's
own key. A copy of the database alone shows none of them. After the key-encryption key was renewed the older
one still opens them, as long as it stays in the list.
"""

from __future__ import annotations

from oneonone.selectors.private.keys import SECOND_FACTOR
from oneonone.services.private import keys


def lock(text: str) -> str:
    """Return the encrypted secret, as it is stored."""
    return keys.lock(SECOND_FACTOR, text)


def unlock(stored: str) -> str:
    """Return the secret. Raises CannotOpen for anything that ``lock`` did not return."""
    return keys.unlock(SECOND_FACTOR, stored)
