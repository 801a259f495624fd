"""People at the ends of other rows, without the hashes of their passwords: only signing in reads those.

The background jobs may have a database role that cannot read the hashes (``rights``). Whatever a job reads of
people is read through here.
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
    """The rows together with the people at the ends of these paths."""
    return rows.select_related(*paths).defer(*(f"{path}__password" for path in paths))


def by_id(ids: Iterable[UUID | None]) -> dict[UUID, Person]:
    """These people by their id, those that there are."""
    found: dict[UUID, Person] = Person.objects.defer("password").in_bulk([pk for pk in ids if pk is not None])
    return found
