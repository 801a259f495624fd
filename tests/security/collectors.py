"""Where words might come out: every place that a text could reach, gathered while the journeys are made.

A collector is a function under ``@collector`` that is given the evidence, starts to listen, yields while the
journeys go on, and adds what it has heard. A stream, an API, an export or a backup joins by one more of them
in this file; ``PLACES`` in the test names each, so that one that hears nothing is noticed.
"""

from __future__ import annotations

import logging
import pickle
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import redis
from django.conf import settings
from django.core import mail
from django.core.cache import cache
from django.db import connection
from kombu.transport.memory import Channel

from accounts.models import Session
from oneonone.celery import app
from oneonone.selectors.people.sessions import payload
from tests.engines import throwaway
from tests.security import superuser


@dataclass(frozen=True)
class Piece:
    """Some bytes that came out somewhere. ``reader`` is who alone they went to, if it was one person."""

    place: str
    data: bytes
    about: str = ""
    reader: str = ""


@dataclass
class Evidence:
    """All that was gathered."""

    pieces: list[Piece] = field(default_factory=list)

    def add(self, place: str, data: bytes | str, about: str = "", reader: str = "") -> None:
        raw = data.encode("utf-8", "surrogateescape") if isinstance(data, str) else data
        self.pieces.append(Piece(place, raw, about, reader))

    def places(self) -> dict[str, int]:
        """How many bytes each place gave."""
        sizes: dict[str, int] = {}
        for piece in self.pieces:
            sizes[piece.place] = sizes.get(piece.place, 0) + len(piece.data)
        return sizes


Collector = Callable[[Evidence], Iterator[None]]
COLLECTORS: list[Collector] = []


def collector(listen: Collector) -> Collector:
    """Register a collector."""
    COLLECTORS.append(listen)
    return listen


@contextmanager
def collecting(evidence: Evidence) -> Iterator[None]:
    """Let every collector listen while the block runs."""
    with ExitStack() as stack:
        for listen in COLLECTORS:
            stack.enter_context(contextmanager(listen)(evidence))
        yield


@collector
def logs(evidence: Evidence) -> Iterator[None]:
    """Every record of every logger from DEBUG up, statements of the database with their parameters among
    them."""

    class Keeps(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            about = "while DEBUG was on" if settings.DEBUG else record.name
            evidence.add("logs", f"{logging.Formatter().format(record)} {vars(record)!r}", about)

    handler, root = Keeps(), logging.getLogger()
    names = ["", "django", "django.db.backends", "django.request", "django.security", "oneonone", "tasks",
             "accounts", "celery", "allauth"]  # fmt: skip
    loggers = [logging.getLogger(name) for name in names]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.DEBUG)
    # Alone, because to format each record for those of the test run too would take longer than the journeys.
    others, root.handlers = root.handlers, [handler]
    connection.force_debug_cursor = True
    try:
        yield
    finally:
        connection.force_debug_cursor = False
        root.handlers = others
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)


@collector
def mails(evidence: Evidence) -> Iterator[None]:
    """Every mail as it left, and each of its parts decoded."""
    mail.outbox = []
    yield
    for sent in mail.outbox:
        message = sent.message()
        evidence.add("mails", message.as_bytes())
        for part in message.walk():
            if not part.is_multipart():
                decoded = part.get_payload(decode=True)
                evidence.add("mails", decoded if isinstance(decoded, bytes) else b"")


@collector
def tasks(evidence: Evidence) -> Iterator[None]:
    """Every message to the jobs, as the sender hands it over, and as it lies in the broker."""
    send = app.send_task
    for queue in Channel.queues.values():
        queue.queue.clear()

    def heard(*args: Any, **options: Any) -> Any:
        evidence.add("tasks", repr((args, options)))
        return send(*args, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(app, "send_task", heard)
        yield
    for name, queue in Channel.queues.items():
        evidence.add("tasks", repr((name, list(queue.queue))))


@collector
def redis_keys(evidence: Evidence) -> Iterator[None]:
    """Every key of Redis with its value, where there is one: broker and cache."""
    yield
    if not settings.REDIS_URL:
        return
    with redis.Redis.from_url(settings.REDIS_URL) as client:
        for key in client.scan_iter():
            evidence.add("redis", key + b" " + (client.dump(key) or b""))
            reading: dict[bytes, Callable[[Any], Any]] = {
                b"list": lambda key: client.lrange(key, 0, -1),
                b"hash": client.hgetall,
                b"set": client.smembers,
                b"string": client.get,
            }
            read = reading.get(client.type(key))
            evidence.add("redis", repr(read(key)) if read else "")


@collector
def redis_commands(evidence: Evidence) -> Iterator[None]:
    """Every command that was given for this process's part of Redis: what is only published to whoever
    listens, and keys that are gone by the end, among them."""
    if not settings.REDIS_URL:
        yield
        return
    with redis.Redis.from_url(settings.REDIS_URL) as client, client.monitor() as monitor:
        yield
        number, last = client.connection_pool.connection_kwargs["db"], uuid4().hex
        client.echo(last)
        for said in monitor.listen():
            if last in said["command"]:
                break
            if said["db"] == number:
                given = str(said["command"]).encode("ascii", "backslashreplace").decode("unicode_escape")
                evidence.add("redis", given.encode("latin-1"), "given")


@collector
def sessions(evidence: Evidence) -> Iterator[None]:
    """Every session, opened."""
    yield
    for session in Session.objects.all():
        evidence.add("sessions", repr(payload(session)))


@collector
def cached(evidence: Evidence) -> Iterator[None]:
    """The cache of this process, where it is one; Redis and the database have collectors of their own."""
    yield
    kept = getattr(cache, "_cache", None)
    for key, value in kept.items() if isinstance(kept, dict) else ():
        evidence.add("cache", f"{key} {pickle.loads(value)!r}")


@collector
def database(evidence: Evidence) -> Iterator[None]:
    """The database as it lies on the disk: SQLite's file with its freed pages and its log of writes, or a
    dump of PostgreSQL, the files of its data folder, its log of writes and what its server has said."""
    yield
    if connection.vendor == "sqlite":
        file = Path(connection.settings_dict["NAME"])
        for part in (file, Path(f"{file}-wal"), Path(f"{file}-journal")):
            if part.exists():
                evidence.add("database", part.read_bytes(), part.name)
        return
    evidence.add("database", superuser.run("pg_dump", "--inserts"), "pg_dump")
    with superuser.connected() as there:
        # Written out, so that the files hold what the memory does.
        there.execute("CHECKPOINT")
        row = there.execute("SHOW data_directory").fetchone()
        assert row
    folder = Path(row[0])
    for file in sorted(folder.rglob("*")):
        if file.is_file() and ("base" in file.parts or "pg_wal" in file.parts):
            evidence.add("database", file.read_bytes(), f"{file.parent.name}/{file.name}")
    evidence.add("database", (folder.parent / throwaway.SERVER_LOG).read_bytes(), throwaway.SERVER_LOG)
