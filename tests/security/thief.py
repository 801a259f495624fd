"""What a thief makes of a copy of the database: every value in it, and every key, code or link in those.

There are two copies: one read row by row, each value also decoded from base64, hex and compressed streams;
and the backup as it lies on the disk: SQLite's file with its freed pages and its log of writes, or a dump of
PostgreSQL.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.test import Client
from django.urls import reverse

from accounts.services import invitations
from oneonone.web.signing_in.session_store import SessionStore
from tests.security import superuser
from tests.security.spellings import inflated

TOKEN = re.compile(rb"[A-Za-z0-9_-]{8,}")
ENCODED = re.compile(rb"[A-Za-z0-9+/_-]{12,}")
# Keys of sessions are 32 of these; where a longer run of them stands, each stretch of 32 may be one.
RUN = re.compile(rb"[a-z0-9]{32,}")
KEY_LENGTH = 32
# Codes that are mailed: eight of these consonants, with or without the dash.
CONSONANTS = "BCDFGHJKLMNPQRSTVWXZ"
CODE = re.compile(rf"(?<![A-Za-z])[{CONSONANTS}]{{4}}-?[{CONSONANTS}]{{4}}(?![A-Za-z])".encode())
TOKEN_LENGTH = 43  # of 32 random bytes in base64


@dataclass
class Loot:
    """What was found. ``values`` are whole columns, ``tokens`` and ``codes`` what looks like one anywhere."""

    values: set[str] = field(default_factory=set)
    tokens: set[str] = field(default_factory=set)
    codes: set[str] = field(default_factory=set)

    def take(self, *layers: bytes) -> None:
        """Keep what looks like a token or a code."""
        for layer in layers:
            self.tokens.update(token.decode() for token in TOKEN.findall(layer))
            self.codes.update(code.decode() for code in CODE.findall(layer))
            for run in RUN.findall(layer):
                stretches = range(len(run) - KEY_LENGTH + 1)
                self.tokens.update(run[at : at + KEY_LENGTH].decode() for at in stretches)


def _layers(data: bytes) -> Iterator[bytes]:
    """A value, and what is encoded or compressed in it."""
    yield data
    yield from inflated(data)
    for match in set(ENCODED.findall(data)):
        for plain in _decoded(match):
            yield plain
            yield from inflated(plain)


def _decoded(word: bytes) -> Iterator[bytes]:
    padded = word + b"=" * (-len(word) % 4)
    for decode, given in (
        (base64.b64decode, padded),
        (base64.urlsafe_b64decode, padded),
        (binascii.unhexlify, word),
    ):
        try:
            yield decode(given)
        except ValueError:
            continue


def steal() -> Loot:
    """Both copies of the database that this process is connected to."""
    loot = from_rows()
    loot.take(*files())
    return loot


def from_rows() -> Loot:
    """The copy that is read row by row."""
    loot = Loot()
    for value in _values():
        data = bytes(value) if isinstance(value, bytes | memoryview) else str(value).encode()
        loot.values.add(data.decode("latin-1"))
        loot.take(*_layers(data))
    return loot


def files() -> Iterator[bytes]:
    """The backup as it lies on the disk."""
    if connection.vendor == "postgresql":
        yield superuser.run("pg_dump", "--inserts")
        return
    file = Path(connection.settings_dict["NAME"])
    yield from (part.read_bytes() for part in (file, Path(f"{file}-wal")) if part.exists())


def _values() -> Iterator[object]:
    """Every value of every column of every table, those among them that no model knows.

    PostgreSQL gives private rows to their owner alone; they are in the dump.
    """
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            for row in cursor.fetchall():
                yield from row


def open_sessions(candidates: Iterable[str]) -> set[str]:
    """Those that the server takes for the key of somebody's session."""
    return {key for key in candidates if len(key) >= 8 and SessionStore(key).load()}


def open_pages(candidates: Iterable[str], path: str) -> set[str]:
    """Those that open a page of somebody who is signed in, sent as the cookie."""
    found, client = set(), Client()
    for key in candidates:
        client.cookies[settings.SESSION_COOKIE_NAME] = key
        if client.get(path).status_code == 200:
            found.add(key)
    return found


def open_invitations(candidates: Iterable[str]) -> set[str]:
    """Those that are the token in an invitation's link."""
    known = {token for token in candidates if len(token) == TOKEN_LENGTH and invitations.by_token(token)}
    return {token for token in known if Client().get(reverse("invitation", args=[token])).status_code == 200}


def right_codes(candidates: Iterable[str], client: Client, path: str) -> set[str]:
    """The first with which the thief's own browser gets further than the form that asks for the code."""
    for code in candidates:
        if client.post(path, {"code": code}).status_code == 302:
            return {code}
    return set()
