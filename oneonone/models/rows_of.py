"""Row-level security for private rows: PostgreSQL itself gives them only to their owner.

A statement sees the rows of the person in the setting ``oneonone.person``, and no rows while it is empty.
``as_reader`` sets it for a block, at most until the end of the transaction, so that a pooled connection does
not pass it to the next request. Queries through ``.of(person)`` set it themselves; other queries see nothing.
SQLite has no row-level security; there only ``.of(person)`` protects the rows.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Self
from uuid import UUID

from django.db import connections, models, transaction
from django.db.utils import DEFAULT_DB_ALIAS

SETTING = "oneonone.person"


@contextmanager
def as_reader(person_id: UUID, *, using: str = DEFAULT_DB_ALIAS) -> Iterator[None]:
    """In this block statements see the private rows of this person, and of nobody else.

    Blocks can be nested: after the inner block the reader of the outer one is set again.
    """
    connection = connections[using]
    if connection.vendor != "postgresql":
        yield
        return
    outermost = not connection.in_atomic_block
    # An error in a statement rolls back the transaction or a savepoint around this block, and the setting
    # with it.
    with transaction.atomic(using=using, savepoint=False):
        before = _set(connection, str(person_id))
        yield
        if not outermost and before != str(person_id):
            _set(connection, before)


def _set(connection: Any, value: str) -> str:
    """Set the reader for the rest of the transaction. Returns the previous one; empty for none."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT coalesce(current_setting(%s, true), ''), set_config(%s, %s, true)",
            [SETTING, SETTING, value],
        )
        before: str = cursor.fetchone()[0]
    return before


class ReaderLeftBehind(Exception):
    """A connection has a reader set although no block has set one."""


def assert_no_reader(*, using: str = DEFAULT_DB_ALIAS) -> None:
    """Check before a request or a run of the jobs that the connection has no reader.

    ``as_reader`` ends with its transaction, so this should never fail. If it did, the next person would get
    the private rows of the previous one. In that case this raises ReaderLeftBehind and closes the connection.
    A connection that is not open yet has no reader.
    """
    connection = connections[using]
    if connection.vendor != "postgresql" or connection.connection is None:
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT coalesce(current_setting(%s, true), '')", [SETTING])
        (reader,) = cursor.fetchone()
    if reader:
        connection.close()
        raise ReaderLeftBehind


class RowsOf(models.QuerySet[Any]):
    """Private rows of one person. Every statement runs with that person as the reader."""

    _reader: UUID

    def read_by(self, person_id: UUID) -> Self:
        """The same rows, for this reader."""
        found = self._chain()  # type: ignore[attr-defined]  # QuerySet's own
        found._reader = person_id
        reading: Self = found
        return reading

    def _clone(self) -> Self:
        clone: Self = super()._clone()  # type: ignore[misc]
        if hasattr(self, "_reader"):
            clone._reader = self._reader
        return clone

    def _as_reader(self) -> Any:
        return as_reader(self._reader, using=self.db)

    def _fetch_all(self) -> None:
        if self._result_cache is not None:
            return
        with self._as_reader():
            super()._fetch_all()

    def iterator(self, chunk_size: int | None = None) -> Iterator[Any]:
        """As in Django, but fetches all rows at once: the reader is set for a single statement."""
        with self._as_reader():
            rows = list(super().iterator(chunk_size))
        yield from rows

    def exists(self) -> bool:
        """As in Django."""
        with self._as_reader():
            return super().exists()

    def count(self) -> int:
        """As in Django."""
        with self._as_reader():
            return super().count()

    def aggregate(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        """As in Django."""
        with self._as_reader():
            return super().aggregate(*args, **kwargs)

    def update(self, **kwargs: Any) -> int:
        """As in Django."""
        with self._as_reader():
            return super().update(**kwargs)

    def delete(self) -> tuple[int, dict[str, int]]:
        """As in Django."""
        with self._as_reader():
            return super().delete()


class SavedAsOwner(models.Model):
    """A private row. It is saved, refreshed and deleted with its owner as the reader."""

    class Meta:
        abstract = True

    @property
    def reader_id(self) -> UUID:
        """The owner of the row."""
        raise NotImplementedError

    def save(self, *args: Any, **kwargs: Any) -> None:
        """As in Django."""
        with as_reader(self.reader_id):
            super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        """As in Django."""
        with as_reader(self.reader_id):
            return super().delete(*args, **kwargs)

    def refresh_from_db(self, *args: Any, **kwargs: Any) -> None:
        """As in Django."""
        with as_reader(self.reader_id):
            super().refresh_from_db(*args, **kwargs)
