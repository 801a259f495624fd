"""Locks for both database engines.

SQLite transactions are opened IMMEDIATE, so only one runs at a time. On PostgreSQL an advisory lock is taken,
which ends with the transaction.
"""

from __future__ import annotations

from django.db import connection

from .lines import Line

LINES = 0x11AE5


def lock_lines() -> None:
    """Lock changes of who reports to whom, until the transaction ends."""
    if not connection.in_atomic_block:
        raise RuntimeError("lock_lines() needs a transaction")
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LINES])


def lock_line(line: Line) -> bool:
    """Be alone in planning this line's meetings and pauses until the transaction ends; is it open still?

    Taken before any meeting of the line is changed, so that two transactions never wait for each other. Rows
    that only refer to the line can be written meanwhile.
    """
    if not connection.in_atomic_block:
        raise RuntimeError("lock_line() is held by a transaction, and there is none")
    locked = Line.objects.select_for_update(no_key=True).filter(pk=line.pk)
    return locked.values_list("ended_at", flat=True).get() is None
