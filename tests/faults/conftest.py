"""A server's processes against a database and a mail server of the test's own, and what they leave."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg
import pytest

from tests.engines import throwaway
from tests.mail.server import Script, running

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 240


@dataclass
class Place:
    """Where the processes work. ``server`` is the mail server, ``folder`` PostgreSQL's where it is used."""

    environment: dict[str, str]
    server: Script
    folder: Path | None
    processes: list[subprocess.Popen[str]] = field(default_factory=list)

    def start(self, *words: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.work", *words],
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self.processes.append(process)
        return process

    def do(self, *words: str, code: int = 0) -> str:
        out, err = self.start(*words).communicate(timeout=SECONDS)
        assert self.processes[-1].returncode == code, err[-3000:]
        return out

    def found(self) -> dict[str, Any]:
        told: dict[str, Any] = json.loads(self.do("tell"))
        return told

    @property
    def copies(self) -> Counter[str]:
        """How often each mail arrived whole, by its Message-ID: of those that the test owes."""
        return Counter(str(got["Message-ID"]) for got in self.server.got if got["Subject"].startswith("Code"))


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.services)])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Place]:
    """An empty database, migrated, with one line."""
    with ExitStack() as stack:
        server = Script()
        port = stack.enter_context(running(server))
        folder, url = None, ""
        if request.param == "postgresql":
            folder = stack.enter_context(throwaway.folder())
            url = throwaway.start(folder).database
            # A commit has to outlive a crash of the server, which the quick settings of other tests give up.
            with psycopg.connect(url, autocommit=True) as connection:
                connection.execute("ALTER ROLE CURRENT_USER SET synchronous_commit = on")
        env = {name: value for name, value in os.environ.items() if not name.startswith("ONEONONE_")}
        env |= {
            "DJANGO_SETTINGS_MODULE": "oneonone.settings",
            "ONEONONE_DATA": str(tmp_path),
            "ONEONONE_SECRET_KEY": "a key for tests only, long enough to be taken as a key",
            "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
            "ONEONONE_MAIL_URL": f"smtp://127.0.0.1:{port}?tls=none",
            "ONEONONE_MAIL_FROM": "one-on-ones@example.org",
            "DATABASE_URL": url,
            "REDIS_URL": "",
        }
        here = Place(env, server, folder)
        here.do("prepare")
        try:
            yield here
        finally:
            for process in here.processes:
                if process.poll() is None:
                    process.kill()
                    process.wait()
