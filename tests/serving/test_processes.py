"""Pages, worker and beat apart, on PostgreSQL and Redis, as a larger organisation runs them."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import psycopg
import pytest
import redis
from celery import Celery

from tests.engines import throwaway
from tests.serving import slow
from tests.serving.running import PATIENCE_SECONDS, PROJECT, clean_environment, serve

pytestmark = pytest.mark.services

KEYS = {
    "ONEONONE_SECRET_KEY": "a key for tests only, long enough to be taken as a key",
    "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
}


@dataclass(frozen=True)
class Place:
    """The two engines and the environment that names them. The demo's quick tick keeps the test short."""

    folder: Path
    urls: throwaway.Urls
    environment: dict[str, str]
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)

    @property
    def log(self) -> Path:
        """Where the Celery processes write."""
        return Path(self.environment["ONEONONE_DATA"]) / "celery.log"

    def number(self, query: str) -> int:
        with psycopg.connect(self.urls.database) as connection:
            row = connection.execute(query.encode()).fetchone()
        assert row
        return int(row[0])

    def ticks(self) -> int:
        return self.number("SELECT count(*) FROM oneonone_tick WHERE schedule = 'tick'")


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    with ExitStack() as stack:
        folder = stack.enter_context(throwaway.folder())
        urls = throwaway.start(folder)
        environment = KEYS | {
            "DATABASE_URL": urls.database,
            "REDIS_URL": urls.redis,
            "ONEONONE_DATA": str(tmp_path),
            "ONEONONE_DEMO": "1",
        }
        yield Place(folder, urls, environment)


def manage(place: Place, *arguments: str) -> str:
    result = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=PROJECT,
        env=clean_environment(place.environment),
        capture_output=True,
        text=True,
        timeout=PATIENCE_SECONDS,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    return result.stdout


@contextmanager
def celery(place: Place, *arguments: str) -> Iterator[subprocess.Popen[bytes]]:
    """A Celery process with its log in a file; ended when the block is left."""
    log = place.log.open("ab")
    process = subprocess.Popen(
        [sys.executable, "-m", "celery", "-A", "oneonone", *arguments, "--loglevel", "INFO"],
        cwd=PROJECT,
        env=clean_environment(place.environment),
        stdin=subprocess.DEVNULL,
        stdout=log,
        stderr=log,
        start_new_session=True,
    )
    place.processes.append(process)
    try:
        yield process
    finally:
        place.processes.remove(process)
        if process.poll() is None:
            process.terminate()
            process.wait(PATIENCE_SECONDS)
        log.close()


def send(place: Place, task: str, arguments: list[str]) -> None:
    with Celery(broker=place.urls.redis, set_as_current=False) as app:
        app.conf.task_default_queue = "oneonone"
        app.send_task(task, args=arguments, ignore_result=True)


def until_there(place: Place, file: Path) -> None:
    until(place, file.exists, file.name)


def until_ticks(place: Place, number: int) -> None:
    until(place, lambda: place.ticks() >= number, f"{number} ticks")


def until(place: Place, happened: Callable[[], bool], what: str) -> None:
    """Wait until it happened; give up when a Celery process has ended or patience has."""
    deadline = time.monotonic() + PATIENCE_SECONDS
    while not happened():
        ended = [process for process in place.processes if process.poll() is not None]
        if ended or time.monotonic() > deadline:
            raise AssertionError(f"waited in vain for {what}:\n{place.log.read_text()[-6000:]}")
        time.sleep(0.2)


def test_beat_ticks_a_worker_works_and_pages_are_served_apart_from_both(place: Place) -> None:
    manage(place, "migrate", "--verbosity", "0")
    with celery(place, "worker", "-c", "2") as worker, celery(place, "beat") as beat:
        until_ticks(place, 2)
        with serve("--demo", "--port", "0", environment=place.environment) as pages:
            pages.wait_for(r"Background jobs: elsewhere \(REDIS_URL is set\)")
            pages.wait_for(r"Ready after")
            assert pages.get("/account/login/")[0] == 200
            assert pages.stop(signal.SIGTERM) == 0
        beat.terminate()
        worker.terminate()
        assert (beat.wait(PATIENCE_SECONDS), worker.wait(PATIENCE_SECONDS)) == (0, 0)


def test_two_beats_and_two_workers_make_one_tick_of_each_slot(place: Place) -> None:
    manage(place, "migrate", "--verbosity", "0")
    with ExitStack() as stack:
        for number in (1, 2):
            stack.enter_context(celery(place, "worker", "-c", "1", "-n", f"w{number}@%h"))
            stack.enter_context(celery(place, "beat"))
        until_ticks(place, 3)
    slots = place.number("SELECT count(DISTINCT due_at) FROM oneonone_tick WHERE schedule = 'tick'")
    assert place.ticks() == slots


def test_a_redis_killed_while_a_job_runs_costs_neither_the_job_nor_the_worker(place: Place) -> None:
    manage(place, "migrate", "--verbosity", "0")
    with celery(place, "worker", "-c", "1", "-I", "tests.serving.slow") as worker, celery(place, "beat"):
        until_ticks(place, 1)
        begun, ended = (Path(place.environment["ONEONONE_DATA"]) / name for name in ("begun", "ended"))
        send(place, slow.NAME, [str(begun), str(ended)])
        until_there(place, begun)
        throwaway.stop_redis(place.folder)
        with redis.Redis.from_url(place.urls.redis) as client, pytest.raises(redis.ConnectionError):
            client.ping()
        until_there(place, ended)
        before = place.ticks()
        throwaway.start_redis(place.folder, port=int(place.urls.redis.rpartition(":")[2].partition("/")[0]))
        until_ticks(place, before + 2)
        assert worker.poll() is None
