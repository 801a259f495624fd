"""The secrets of second factors as they are stored: locked by the key-encryption key, never in plain.

They belong to the server, which has to compute the same codes as the app, so they are not under a person's
own key. A copy of the database alone shows none of them. After the key-encryption key was renewed the older
one still opens them, as long as it stays in the list.
"""

from __future__ import annotations

from oneonone.selectors.keys import SECOND_FACTOR
from oneonone.services import keys


def lock(text: str) -> str:
    """What is stored in place of the secret."""
    return keys.lock(SECOND_FACTOR, text)


def unlock(stored: str) -> str:
    """The secret. CannotOpen for anything that ``lock`` did not give."""
    return keys.unlock(SECOND_FACTOR, stored)
