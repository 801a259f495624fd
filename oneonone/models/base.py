"""Base classes and constraints shared by the models."""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar
from uuid import UUID, uuid4

from django.db import models
from django.db.models import Q, Value
from django.db.models.functions import Length
from django.db.models.lookups import LessThanOrEqual

from .rows_of import RowsOf, SavedAsOwner

TITLE = 200
WORDS = 4000
NAME = 120

# The due instant of what has never been looked at by a job.
LONG_DUE = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

SHARED = "shared"
PRIVATE = "private"
SYSTEM = "system"


class Row(models.Model):
    """A row with a UUID made by the application, so that the id is known before the row is stored.

    ``str`` and ``repr`` contain no text of the row: they end up in logs, error reports and task arguments.
    """

    privacy: ClassVar[str] = SHARED

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{type(self).__name__} {self.pk}"

    __repr__ = __str__


class Unreadable(RuntimeError):
    """A query for private rows did not name a reader."""


class OwnedManager(models.Manager[Any]):
    """A manager that gives private rows for a named owner only. Every other query raises Unreadable."""

    def get_queryset(self) -> models.QuerySet[Any]:
        raise Unreadable(f"{self.model.__name__}: private rows are read with .of(person)")

    def of(self, owner: Any) -> models.QuerySet[Any]:
        """The rows of ``owner`` only."""
        return RowsOf(self.model, using=self._db).read_by(owner.pk).filter(owner=owner)


class Sealed(SavedAsOwner, Row):
    """A private row: one padded blob under its owner's key. Only what jobs need is stored outside the blob.

    ``revision`` is bound into the sealed text, so that an older blob does not open in a newer row. The
    columns outside are days, not instants: days are enough for retention and reveal less.
    """

    privacy: ClassVar[str] = PRIVATE

    owner = models.ForeignKey("accounts.Person", on_delete=models.PROTECT, related_name="+")
    blob = models.BinaryField()
    key_number = models.PositiveIntegerField()
    revision = models.PositiveIntegerField(default=1)
    created_on = models.DateField()
    changed_on = models.DateField()

    objects = OwnedManager()

    class Meta:
        abstract = True

    @property
    def reader_id(self) -> UUID:
        """The owner of the row."""
        return self.owner_id


def limit(field: str, most: int, *, table: str) -> models.CheckConstraint:
    """A length limit that both engines enforce: SQLite ignores the length of a column."""
    return models.CheckConstraint(
        condition=LessThanOrEqual(Length(field), Value(most)), name=f"{table}_{field}_at_most_{most}"
    )


def words_or_blob(field: str, *, table: str) -> models.CheckConstraint:
    """A row has either plain text or a blob, never both and never neither."""
    return models.CheckConstraint(
        condition=(Q(blob__isnull=True) & ~Q(**{field: ""})) | (Q(blob__isnull=False) & Q(**{field: ""})),
        name=f"{table}_words_or_blob",
    )
