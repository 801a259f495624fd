"""While the database is away the log has one line a minute about it, and all else as ever."""

from __future__ import annotations

import logging
import sqlite3
from io import StringIO

import psycopg
import pytest
from django.db import DatabaseError, InterfaceError, OperationalError

from oneonone import outages
from oneonone.services.notices import job_queue
from tasks import schedule
from tests.cast import NOW

REFUSED = 'connection failed: connection to server at "127.0.0.1", port 1 failed: Connection refused'


def caused(fault: Exception, cause: Exception) -> Exception:
    fault.__cause__ = cause
    return fault


AWAY = [
    caused(OperationalError(REFUSED + "\n\tIs the server running?"), psycopg.OperationalError(REFUSED)),
    caused(
        OperationalError("terminating connection"), psycopg.errors.AdminShutdown("terminating connection")
    ),
    caused(
        OperationalError("the connection is closed"), psycopg.OperationalError("the connection is closed")
    ),
    caused(InterfaceError("connection already closed"), psycopg.InterfaceError("connection already closed")),
    caused(OperationalError("starting up"), psycopg.errors.CannotConnectNow("starting up")),
    OperationalError("unable to open database file"),
    DatabaseError("database disk image is malformed"),
    caused(
        RuntimeError("a page failed"), caused(OperationalError(REFUSED), psycopg.OperationalError(REFUSED))
    ),
]
NOT_AWAY = [
    ValueError("unable to open database file"),
    OperationalError("database is locked"),
    caused(OperationalError("deadlock detected"), psycopg.errors.DeadlockDetected("deadlock detected")),
    caused(OperationalError("canceled"), psycopg.errors.QueryCanceled("canceled")),
    caused(DatabaseError("x"), sqlite3.DatabaseError("x")),
]


@pytest.mark.parametrize("fault", AWAY, ids=str)
def test_a_database_that_is_away_is_known_by_its_error(fault: Exception) -> None:
    why = outages.reason(fault)
    assert why
    assert "\n" not in why


@pytest.mark.parametrize("fault", NOT_AWAY, ids=str)
def test_other_errors_are_none_of_that(fault: Exception) -> None:
    assert outages.reason(fault) == ""


class Log:
    """A logger with the filter, and what it has written."""

    def __init__(self) -> None:
        self.written = StringIO()
        handler = logging.StreamHandler(self.written)
        handler.addFilter(outages.OneLineAMinute())
        self.logger = logging.Logger("of a test")
        self.logger.addHandler(handler)

    def fail(self, fault: Exception) -> None:
        try:
            raise fault
        except Exception:
            self.logger.exception("%s stopped", "a job")

    @property
    def lines(self) -> list[str]:
        return self.written.getvalue().splitlines()


def test_a_thousand_failures_in_a_minute_are_one_line_and_counted_in_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seconds = [1000.0]
    monkeypatch.setattr(outages, "monotonic", lambda: seconds[0])
    log = Log()
    for _ in range(1000):
        log.fail(AWAY[0])
        seconds[0] += 0.05
    assert log.lines == [
        f"The database cannot be reached: {REFUSED}. Messages left out since the last such line: 0."
    ]
    seconds[0] = 1060.0
    log.fail(AWAY[0])
    assert len(log.lines) == 2
    assert log.lines[1].endswith("Messages left out since the last such line: 999.")


def test_without_the_filter_each_of_them_is_a_traceback() -> None:
    log = Log()
    log.logger.handlers[0].filters.clear()
    for _ in range(3):
        log.fail(AWAY[0])
    assert log.written.getvalue().count("Traceback") >= 3


def test_other_errors_keep_their_tracebacks_meanwhile() -> None:
    log = Log()
    log.fail(AWAY[0])
    log.fail(ValueError("something else"))
    assert "ValueError: something else" in log.lines
    assert "a job stopped" in log.lines


def test_the_jobs_end_their_run_at_once(monkeypatch: pytest.MonkeyPatch, db: None) -> None:
    """Each of them would wait for the database until its time is up."""
    asked = []

    def away(name: str, *args: object) -> None:
        asked.append(name)
        raise AWAY[0]

    monkeypatch.setattr(job_queue, "succeeded", lambda *, job, now: away(job))
    with pytest.raises(OperationalError):
        schedule.run_once(NOW)
    assert len(asked) == 1
