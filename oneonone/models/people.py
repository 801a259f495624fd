"""Read people together with other rows, without their password hashes.

The database role of the background jobs may lack the right to read the hashes (``rights``), so jobs read
people through this module.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar
from uuid import UUID

from django.db import models
from django.db.models import QuerySet

from accounts.models import Person

ModelT = TypeVar("ModelT", bound=models.Model)


def with_people(rows: QuerySet[ModelT], *paths: str) -> QuerySet[ModelT]:
    """The rows, with the people at these paths fetched by a join."""
    return rows.select_related(*paths).defer(*(f"{path}__password" for path in paths))


def by_id(ids: Iterable[UUID | None]) -> dict[UUID, Person]:
    """The existing people among these ids, by id."""
    found: dict[UUID, Person] = Person.objects.defer("password").in_bulk([pk for pk in ids if pk is not None])
    return found
