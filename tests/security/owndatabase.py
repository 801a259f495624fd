"""A database of one's own for tests that keep what they write, put in place of the one that all others share.

For SQLite it is a file with a log of writes. For PostgreSQL it is a server of its own, so that its whole data
folder, its log of writes and what it says about its statements hold the words of these tests alone, whatever
other workers write at the same time; it is gone when the block ends, and so is every row.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from tests.engines import throwaway


@contextmanager
def own_database(folder: Path) -> Iterator[None]:
    """Every statement of this process goes to an empty database that nobody else is connected to.

    Its one connection stays open, where the end of a request or of a test would close it.
    """
    shared = connections["default"]
    making = _sqlite if shared.vendor == "sqlite" else _postgresql
    with making(shared, folder) as own, pytest.MonkeyPatch.context() as patch:
        connections["default"] = own
        ContentType.objects.clear_cache()
        try:
            if own.vendor == "postgresql":
                call_command("migrate", interactive=False, verbosity=0)
            for closing in ("close", "close_if_unusable_or_obsolete"):
                patch.setattr(own, closing, lambda: None)
            yield
        finally:
            connections["default"] = shared
            ContentType.objects.clear_cache()
            patch.undo()
            own.close()


@contextmanager
def _sqlite(shared: BaseDatabaseWrapper, folder: Path) -> Iterator[BaseDatabaseWrapper]:
    file = folder / "canaries.sqlite3"
    shared.ensure_connection()
    copy = sqlite3.connect(file)
    shared.connection.backup(copy)
    copy.close()
    own = type(shared)({**shared.settings_dict, "NAME": str(file)}, "default")
    with own.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode=WAL")
    yield own


@contextmanager
def _postgresql(shared: BaseDatabaseWrapper, folder: Path) -> Iterator[BaseDatabaseWrapper]:
    with throwaway.both() as urls:
        there = urlsplit(urls.database)
        where = {"HOST": there.hostname, "PORT": str(there.port), "NAME": there.path.removeprefix("/")}
        yield type(shared)({**shared.settings_dict, **where}, "default")
