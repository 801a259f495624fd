"""The doorbell rings after commit, costs a moment at most, and never breaks what was saved."""

import socket
import time
from collections.abc import Iterator

import pytest
from celery import Celery
from django.db import transaction
from pytest_django import DjangoCaptureOnCommitCallbacks

from oneonone import celery, doorbell

BOUND_SECONDS = 5  # of a publish that waits for a second at most; the rest is room for a busy machine


def waiting() -> list[tuple[str, list[str]]]:
    """Name and arguments of the messages that wait in the broker's queue; reading takes them out."""
    found = []
    with celery.app.connection_for_read() as connection, connection.SimpleQueue("oneonone") as queue:
        while queue.qsize():
            message = queue.get(block=False)
            found.append((message.headers["task"], message.payload[0]))
            message.ack()
    return found


@pytest.fixture
def quiet_bell(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The doorbell on a broker in memory, whatever the suite runs on, with nothing waiting in it."""
    app = broker("memory://localhost/")
    monkeypatch.setattr(celery, "app", app)
    monkeypatch.setattr(doorbell, "app", app)
    monkeypatch.setattr(doorbell, "_deaf_until", 0.0)
    waiting()
    yield
    waiting()


def broker(url: str) -> Celery:
    """An app like ours on another broker."""
    app = Celery("doorbell-test", broker=url, set_as_current=False)
    app.conf.update(celery.SETTINGS, broker_transport_options=celery.redis_options())
    if url.startswith("memory"):
        app.conf.broker_transport_options = {}
    return app


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("quiet_bell")
def test_it_rings_once_the_change_is_committed_and_not_before() -> None:
    with transaction.atomic():
        doorbell.ring()
        assert waiting() == []
    assert waiting() == [("tasks.schedule.drain", [])]


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("quiet_bell")
def test_a_change_that_is_rolled_back_rings_nothing() -> None:
    with transaction.atomic():
        doorbell.ring()
        transaction.set_rollback(True)
    assert waiting() == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("quiet_bell")
def test_it_rings_once_for_a_transaction_however_nested() -> None:
    with transaction.atomic():
        for _part in range(25):
            with transaction.atomic():
                doorbell.ring()
                with transaction.atomic():
                    doorbell.ring()
        doorbell.ring()
    assert waiting() == [("tasks.schedule.drain", [])]
    doorbell.ring()
    doorbell.ring()
    assert len(waiting()) == 2, "outside a transaction it rings at once, each time"


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("quiet_bell")
@pytest.mark.parametrize("silenced", [0, 1])
def test_a_part_that_is_rolled_back_silences_only_itself(silenced: int) -> None:
    with transaction.atomic():
        for part in range(2):
            with transaction.atomic():
                doorbell.ring()
                transaction.set_rollback(part == silenced)
    assert waiting() == [("tasks.schedule.drain", [])]


@pytest.fixture
def silent_port() -> Iterator[int]:
    """A port that takes connections and never says a word."""
    with socket.create_server(("127.0.0.1", 0), backlog=16) as server:
        yield server.getsockname()[1]


@pytest.fixture
def closed_port() -> int:
    """A port on which nobody listens."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port: int = server.getsockname()[1]
    return port


@pytest.mark.django_db
@pytest.mark.parametrize("port", ["silent_port", "closed_port"])
def test_a_broker_that_does_not_answer_costs_a_moment_and_no_error(
    port: str,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    number = request.getfixturevalue(port)
    monkeypatch.setattr(doorbell, "app", broker(f"redis://127.0.0.1:{number}/0"))
    monkeypatch.setattr(doorbell, "_deaf_until", 0.0)
    began = time.monotonic()
    later: list[str] = []
    with django_capture_on_commit_callbacks(execute=True):
        doorbell.ring()
        transaction.on_commit(lambda: later.append("the next callback ran"))
    for _ in range(50):
        with django_capture_on_commit_callbacks(execute=True):
            doorbell.ring()
    assert time.monotonic() - began < BOUND_SECONDS
    assert later == ["the next callback ran"]
    assert caplog.text.count("the next tick sees what is owed") == 1
