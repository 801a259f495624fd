"""Private text under a key. Pure functions over keys: no database, no clock, no framework.

Every person has data keys; each is stored wrapped by a key-encryption key that lives outside the database.
Private text is sealed with its author's data key and opened with the reader's, so that a forgotten filter
elsewhere ends in ``CannotOpen`` and not in text. This is encryption by the server, not end-to-end: whoever
runs the machine can open.
"""

from oneonone.sealed.blob import Where, key_number_of, open_sealed, seal
from oneonone.sealed.errors import CannotOpen, CannotSeal, MalformedKeys
from oneonone.sealed.keyring import KeyEncryptionKey, format_keks, new_kek, parse_keks
from oneonone.sealed.secret import Secret
from oneonone.sealed.wrapping import DataKey, lock, new_data_key, unlock, unwrap, wrap, wrapped_by

__all__ = [
    "CannotOpen",
    "CannotSeal",
    "DataKey",
    "KeyEncryptionKey",
    "MalformedKeys",
    "Secret",
    "Where",
    "format_keks",
    "key_number_of",
    "lock",
    "new_data_key",
    "new_kek",
    "open_sealed",
    "parse_keks",
    "seal",
    "unlock",
    "unwrap",
    "wrap",
    "wrapped_by",
]
