"""Several processes run the jobs at the same time on one database: the end is that of one running alone."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.engines import throwaway

ROOT = Path(__file__).resolve().parents[2]
PROCESSES = 3
SECONDS = 180
EXPECTED = {
    "meetings": 8,  # each of the four lines has met, and has its next one
    "carries": 8,
    "orders": 4,
    "notices": {"invite": 8, "commitment": 8, "record": 8},
    "failures": 0,
}

Race = Callable[[str], tuple[list[dict[str, Any]], dict[str, Any]]]


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.services)])
def database_url(request: pytest.FixtureRequest) -> Iterator[str]:
    """Nothing for SQLite in the data folder, or a PostgreSQL of the test's own."""
    if request.param == "sqlite":
        yield ""
        return
    with throwaway.both() as urls:
        yield urls.database


@pytest.fixture
def race(tmp_path: Path, database_url: str) -> Race:
    """Prepare once, let three processes act together; what each said, and what there is in the end."""
    env = {name: value for name, value in os.environ.items() if not name.startswith("ONEONONE_")}
    env |= {
        "DJANGO_SETTINGS_MODULE": "oneonone.settings",
        "ONEONONE_DEMO": "1",
        "ONEONONE_DATA": str(tmp_path),
        "ONEONONE_SECRET_KEY": "a key for tests only, long enough to be taken as a key",
        "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
        "DATABASE_URL": database_url,
        "REDIS_URL": "",
    }

    def start(act: str) -> subprocess.Popen[str]:
        words = [sys.executable, "-m", "tests.tasks.race", act, str(tmp_path)]
        return subprocess.Popen(words, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True)

    def said(process: subprocess.Popen[str]) -> str:
        out, _err = process.communicate(timeout=SECONDS)
        assert process.returncode == 0
        return out

    def run(act: str) -> tuple[list[dict[str, Any]], dict[str, Any]]:
        said(start("prepare"))
        racers = [start(act) for _number in range(PROCESSES)]
        until = time.monotonic() + SECONDS
        while len(list(tmp_path.glob("ready-*"))) < PROCESSES and time.monotonic() < until:
            time.sleep(0.02)
        (tmp_path / "go").touch()
        told = [json.loads(said(racer)) for racer in racers]
        return told, json.loads(said(start("tell")))

    return run


def test_each_thing_owed_is_done_once_and_each_mail_arrives_once(race: Race) -> None:
    told, end = race("work")
    assert {name: end[name] for name in EXPECTED} == EXPECTED
    assert end["mails"] == {"sent": end["letters"]}
    assert end["most copies of one"] == 1
    assert sorted(one["took the slot"] for one in told) == [False] * (PROCESSES - 1) + [True]
    assert end["slots"] == 1


def test_the_same_race_without_the_claim_sends_a_mail_more_than_once(race: Race) -> None:
    """That the race is one: it is lost as soon as mails are taken without a conditional update."""
    _told, end = race("unguarded")
    assert end["most copies of one"] > 1
