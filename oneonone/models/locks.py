"""Locks for both database engines.

SQLite transactions are opened IMMEDIATE, so only one runs at a time. On PostgreSQL an advisory lock is taken,
which ends with the transaction.
"""

from __future__ import annotations

from django.db import connection

LINES = 0x11AE5


def lock_lines() -> None:
    """Lock changes of who reports to whom, until the transaction ends."""
    if not connection.in_atomic_block:
        raise RuntimeError("lock_lines() needs a transaction")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LINES])
