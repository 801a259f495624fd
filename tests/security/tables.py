"""All tables of the database, summed up so that any change shows, and which rows may change at a look."""

from __future__ import annotations

import hashlib

from django.apps import apps
from django.db import connection

# Looking at a page keeps the session going and notes when it was last used; nothing else.
SESSIONS = frozenset({"django_session", "usersessions_usersession"})


def all_tables() -> list[str]:
    """Every table of every installed model, those made for relations of many to many among them."""
    return sorted({model._meta.db_table for model in apps.get_models(include_auto_created=True)})


def sums(*, but: frozenset[str] = SESSIONS) -> dict[str, str]:
    """For each table the number of its rows and a checksum over all their values, in any order."""
    found = {}
    with connection.cursor() as cursor:
        for table in all_tables():
            if table in but:
                continue
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            rows = sorted(repr([_plain(value) for value in row]) for row in cursor.fetchall())
            digest = hashlib.blake2b("\n".join(rows).encode(), digest_size=12).hexdigest()
            found[table] = f"{len(rows)} rows {digest}"
    return found


def _plain(value: object) -> object:
    return bytes(value) if isinstance(value, memoryview) else value


def changed(before: dict[str, str], after: dict[str, str]) -> list[str]:
    """The names of the tables that are not as they were."""
    return sorted(table for table in before.keys() | after.keys() if before.get(table) != after.get(table))
