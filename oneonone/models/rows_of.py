"""The second line around private rows: on PostgreSQL the database itself gives them to their owner alone.

Row-level security lets a statement see the rows of the person named by the setting ``oneonone.person``, and
nobody's while it is empty. ``as_reader`` sets it for a block, and for no longer than the transaction: a
pooled connection carries nothing on to the next request. Whoever goes through ``.of(person)`` has it set by
the query itself, so that nobody has to think of it; whoever goes past it sees nothing. On SQLite there is the
first line alone.
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
    """Until the block ends, private rows of this person are there, and nobody else's.

    Blocks may stand inside each other: the reader of the outer one is set again after the inner one.
    """
    connection = connections[using]
    if connection.vendor != "postgresql":
        yield
        return
    outermost = not connection.in_atomic_block
    # An error in a statement ends the transaction or goes back to a savepoint around this block, and the
    # setting goes back with it.
    with transaction.atomic(using=using, savepoint=False):
        before = _set(connection, str(person_id))
        yield
        if not outermost and before != str(person_id):
            _set(connection, before)


def _set(connection: Any, value: str) -> str:
    """Set the reader for the rest of the transaction; the one there was, empty for none."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT coalesce(current_setting(%s, true), ''), set_config(%s, %s, true)",
            [SETTING, SETTING, value],
        )
        before: str = cursor.fetchone()[0]
    return before


class ReaderLeftBehind(Exception):
    """A connection names a reader though nobody has asked for one yet."""


def assert_no_reader(*, using: str = DEFAULT_DB_ALIAS) -> None:
    """Called before a request or a run of the jobs: the connection names no reader, or is given up.

    ``as_reader`` ends with its transaction, so this never happens; were it to, the next person would be given
    the private rows of the one before. Raises ReaderLeftBehind, and closes the connection, so that the one
    after it begins anew. A connection that is not open yet names nobody.
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
    """Private rows of one person; every statement of it runs as that reader."""

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
        """As in Django, but all at once: a reader is set for no longer than a statement takes."""
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
    """A private row: read again, saved and deleted as its owner."""

    class Meta:
        abstract = True

    @property
    def reader_id(self) -> UUID:
        """The person whose row it is."""
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
