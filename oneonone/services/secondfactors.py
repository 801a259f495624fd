"""The secrets of second factors as they are stored: locked by the key-encryption key, never in plain.

They belong to the server, which has to compute the same codes as the app, so they are not under a person's
own key. A copy of the database alone shows none of them. After the key-encryption key was renewed the older
one still opens them, as long as it stays in the list.
"""

from __future__ import annotations

import base64

from oneonone import sealed
from oneonone.selectors.keys import SECOND_FACTOR, key_encryption_keys


def lock(text: str) -> str:
    """What is stored in place of the secret."""
    blob = sealed.lock(key_encryption_keys()[0], SECOND_FACTOR, sealed.Secret(text.encode()))
    return base64.b64encode(blob).decode("ascii")


def unlock(stored: str) -> str:
    """The secret. CannotOpen for anything that ``lock`` did not give."""
    try:
        blob = base64.b64decode(stored, validate=True)
    except ValueError:
        raise sealed.CannotOpen("shape") from None
    return sealed.unlock(key_encryption_keys(), SECOND_FACTOR, blob).reveal().decode()
