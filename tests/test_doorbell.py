"""The doorbell rings after commit, costs a moment at most, and never breaks what was saved."""

import socket
import time
import uuid
from collections.abc import Iterator

import pytest
from celery import Celery
from django.db import transaction
from pytest_django import DjangoCaptureOnCommitCallbacks

from oneonone import celery, doorbell

ROW = uuid.UUID("018f0000-0000-7000-8000-000000000001")
BOUND_SECONDS = 5  # of a publish that waits for a second at most; the rest is room for a busy machine


def waiting() -> list[str]:
    """Names of the tasks that wait in the broker's queue; reading takes them out."""
    names = []
    with celery.app.connection_for_read() as connection, connection.SimpleQueue("oneonone") as queue:
        while queue.qsize():
            message = queue.get(block=False)
            names.append(message.headers["task"])
            message.ack()
    return names


@pytest.fixture
def quiet_bell(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The doorbell on a broker in memory, whatever the suite runs on, with nothing waiting in it."""
    app = broker("memory://localhost/")
    monkeypatch.setattr(celery, "app", app)
    monkeypatch.setattr(doorbell, "app", app)
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
        doorbell.ring(ROW)
        assert waiting() == []
    assert waiting() == ["tasks.schedule.drain"]


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("quiet_bell")
def test_a_change_that_is_rolled_back_rings_nothing() -> None:
    with transaction.atomic():
        doorbell.ring(ROW)
        transaction.set_rollback(True)
    assert waiting() == []


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
    began = time.monotonic()
    later = []
    with django_capture_on_commit_callbacks(execute=True):
        doorbell.ring(ROW)
        transaction.on_commit(lambda: later.append("the next callback ran"))
    assert time.monotonic() - began < BOUND_SECONDS
    assert later == ["the next callback ran"]
    assert "the next tick sees them" in caplog.text
    assert str(ROW) not in caplog.text
