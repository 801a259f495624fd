"""A PostgreSQL that goes away under a running server: one line in its log, not one traceback a request."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest

from tests.engines import throwaway
from tests.serving.running import serve

pytestmark = pytest.mark.services


def test_pages_and_jobs_say_it_in_one_line(tmp_path: Path) -> None:
    with throwaway.folder() as place:
        urls = throwaway.start(place)
        # The demo's quick tick lets the jobs meet the outage as well.
        arguments = ("--demo", "--data", str(tmp_path), "--port", "0")
        with serve(*arguments, environment={"DATABASE_URL": urls.database}) as server:
            server.wait_for(r"Ready after")
            assert server.get("/account/login/")[0] == 200
            before = len(server.said.splitlines())
            throwaway.stop_postgresql(place)
            assert {server.get("/account/login/")[0] for _ in range(40)} == {500}
            server.wait_for(r"The database cannot be reached: ")
            lines = server.said.splitlines()[before:]
            server.stop(signal.SIGTERM)
    away = [line for line in lines if "The database cannot be reached" in line]
    assert len(away) in (1, 2), "two where the minute turned meanwhile"
    assert [line for line in lines if "Traceback" in line or "OperationalError" in line] == []
