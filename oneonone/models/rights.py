"""What a database role for the background jobs may do on PostgreSQL: everything but read private rows.

The jobs deal with dates, notices and mails, and no job needs a private word. Under a role of their own the
database holds that: of private tables they may delete what has passed its time, by the columns that say so,
and read nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

from .base import PRIVATE
from .busytimes import BusyWeek


@dataclass(frozen=True)
class Retention:
    """What of a private table a job may delete: the columns that find it, and when its time is over."""

    columns: tuple[str, ...]
    over: str


# Weeks are kept by their Monday in UTC.
RETENTION: Mapping[type[models.Model], Retention] = {
    BusyWeek: Retention(
        columns=("id", "owner_id", "week"), over="week < date_trunc('week', now() AT TIME ZONE 'UTC')::date"
    ),
}


def private_models() -> list[type[models.Model]]:
    """The models whose rows are somebody's own."""
    return [model for model in apps.get_models() if getattr(model, "privacy", "") == PRIVATE]


def statements(role: str, connection: Any) -> Iterator[str]:
    """The statements that give ``role`` just what the jobs need, to be run by the owner of the tables.

    They may be run again, and have to be after every migration: what they gave before is taken back first.
    """
    quote = connection.ops.quote_name
    name = quote(role)
    yield f"GRANT USAGE ON SCHEMA {quote('public')} TO {name}"
    yield f"REVOKE ALL ON ALL TABLES IN SCHEMA {quote('public')} FROM {name}"
    yield f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {quote('public')} TO {name}"
    private = private_models()
    for model in apps.get_models(include_auto_created=True):
        if model in private or not model._meta.managed or model._meta.proxy:
            continue
        table = quote(model._meta.db_table)
        yield f"GRANT SELECT, INSERT, UPDATE, DELETE ON {table} TO {name}"
    for model in private:
        yield from _of_private(quote(model._meta.db_table), RETENTION.get(model), name, quote)


def _of_private(table: str, retention: Retention | None, name: str, quote: Any) -> Iterator[str]:
    policy = quote(f"{table.strip(chr(34))}_jobs")
    yield f"DROP POLICY IF EXISTS {policy} ON {table}"
    if retention is None:
        return
    columns = ", ".join(quote(column) for column in retention.columns)
    yield f"REVOKE ALL ({columns}) ON {table} FROM {name}"
    yield f"GRANT SELECT ({columns}), DELETE ON {table} TO {name}"
    # Restrictive: beside the policy that wants the owner named, not in place of it.
    yield f"CREATE POLICY {policy} ON {table} AS RESTRICTIVE FOR DELETE TO {name} USING ({retention.over})"
