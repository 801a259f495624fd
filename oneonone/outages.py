"""While the database is away: which errors mean that, and one line a minute about it in the log."""

from __future__ import annotations

import logging
import threading
from time import monotonic

import psycopg
from django.db import DatabaseError, InterfaceError

EVERY_SECONDS = 60
# PostgreSQL's error codes: class 08 (connection exception), too many connections, being shut down or started.
GONE_CLASS = "08"
GONE_CODES = frozenset({"53300", "57P01", "57P02", "57P03"})
# SQLite's messages, which carry no code through Django.
GONE_FILE = ("unable to open database file", "disk i/o error", "file is not a database", "malformed")


def reason(fault: BaseException | None) -> str:
    """Why the database cannot be reached, in one line; empty for any other error."""
    while fault is not None:
        if isinstance(fault, DatabaseError | InterfaceError | psycopg.Error) and _is_gone(fault):
            return str(fault).strip().partition("\n")[0].rstrip(".: ") or type(fault).__name__
        fault = fault.__cause__ or fault.__context__
    return ""


def _is_gone(fault: BaseException) -> bool:
    cause = fault if isinstance(fault, psycopg.Error) else fault.__cause__
    if isinstance(cause, psycopg.OperationalError | psycopg.InterfaceError):
        code = cause.sqlstate or GONE_CLASS  # a connection that fails has no code
        return code.startswith(GONE_CLASS) or code in GONE_CODES
    if isinstance(fault, DatabaseError) and not isinstance(fault, psycopg.Error):
        return any(words in str(fault).lower() for words in GONE_FILE)
    return False


class OneLineAMinute(logging.Filter):
    """In place of a traceback for every request and job, one line a minute says that the database is away."""

    def __init__(self) -> None:
        super().__init__()
        self._lock = threading.Lock()
        self._said_at: float | None = None
        self._left_out = 0

    def filter(self, record: logging.LogRecord) -> bool:
        """Drops what is said within the minute, and counts it for the next line."""
        why = reason(record.exc_info[1]) if record.exc_info else ""
        if not why:
            return True
        with self._lock:
            now = monotonic()
            if self._said_at is not None and now - self._said_at < EVERY_SECONDS:
                self._left_out += 1
                return False
            self._said_at, left_out, self._left_out = now, self._left_out, 0
        record.msg = "The database cannot be reached: %s. Messages left out since the last such line: %d."
        record.args = (why, left_out)
        record.exc_info = record.exc_text = record.stack_info = None
        return True
