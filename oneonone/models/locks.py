"""Locks that hold on both engines.

SQLite's transactions are opened IMMEDIATE, so whoever is inside one is alone; PostgreSQL needs an advisory
lock, which ends with the transaction.
"""

from __future__ import annotations

from django.db import connection

LINES = 0x11AE5


def lock_lines() -> None:
    """Be alone in changing who reports to whom, until the transaction ends."""
    if not connection.in_atomic_block:
        raise RuntimeError("lock_lines() is held by a transaction, and there is none")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LINES])
