"""The rights of a separate PostgreSQL role for the background jobs, by table and column.

The jobs handle dates, notices and mails. They may read the shared rows that these depend on, but no private
row, session, second factor, or hash of a password or token. They may change only the columns they need, and
no account.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

from accounts.models import DayAway, Invitation, Person

from . import agenda, followthrough, lines, meetings, organisation, owed
from .base import PRIVATE
from .busytimes import BusyTimes, BusyWeek
from .clocks import ZoneRules
from .history import KindFactor


@dataclass(frozen=True)
class Rights:
    """The rights on a table besides reading it. ``hidden`` fields may not be read."""

    hidden: tuple[str, ...] = ()
    insert: bool = False
    update: tuple[str, ...] = ()
    delete: bool = False


@dataclass(frozen=True)
class Retention:
    """The rows of a private table that a job may delete: the columns it may read, and the condition."""

    columns: tuple[str, ...]
    over: str


READ = Rights()
# The jobs have no right on a table that is not listed.
RIGHTS: Mapping[type[models.Model], Rights] = {
    Person: Rights(hidden=("password",)),
    Invitation: Rights(hidden=("token_hash",)),
    DayAway: READ,
    organisation.Organisation: READ,
    organisation.ClosingDay: READ,
    # ``version`` is not changed; a row can only be locked by whoever may change some column of it.
    lines.Line: Rights(update=("plan_at", "standing_at", "version")),
    lines.Interval: READ,
    lines.Pause: READ,
    agenda.Topic: READ,
    agenda.TopicAfter: READ,
    agenda.Importance: READ,
    agenda.MustDiscuss: Rights(insert=True, delete=True),
    agenda.Placement: Rights(insert=True, update=("is_late", "outcome")),
    agenda.Order: Rights(insert=True),
    agenda.Proposal: Rights(update=("answered_at", "answered_by", "state")),
    meetings.Meeting: Rights(
        insert=True,
        update=(
            *("asked_version", "calendar_sequence", "carried_at", "cleared_at", "confirmed_at", "current"),
            *("given_up_at", "invitation_words", "invite_at", "invited_at", "invited_by", "is_next"),
            *("issue_at", "issued_at", "left_asked_at", "nudged_at", "prepare_by_at", "prepare_version"),
            *("record_at", "reminded_version", "schedule_version", "seq", "starts_at", "state", "today_at"),
            "version",
        ),
    ),
    meetings.HeldClaim: READ,
    meetings.Seen: READ,
    followthrough.Commitment: Rights(update=("remind_at",)),
    followthrough.CommitmentCue: Rights(update=("remind_at",)),
    followthrough.Carry: Rights(insert=True, update=("to_meeting",)),
    followthrough.Revision: READ,
    BusyTimes: Rights(update=("oldest_week",), delete=True),
    KindFactor: Rights(insert=True, update=("counted_at", "hundredths", "lines"), delete=True),
    ZoneRules: Rights(
        insert=True, update=("changes", "first", "look_at", "offset_minutes", "until", "version")
    ),
    owed.Notice: Rights(insert=True, update=("cancelled_at", "mailed", "owed_at")),
    owed.MailWishes: READ,
    owed.Mail: Rights(
        insert=True,
        update=(
            *("attempts", "body", "claim", "claimed_at", "error", "not_before", "sent_at", "state"),
            "to_address",
        ),
    ),
    owed.Mail.notices.through: Rights(insert=True),
    owed.Tick: Rights(insert=True, delete=True),
    owed.JobHealth: Rights(insert=True, update=("failures", "last_failure_at", "last_success_at")),
    owed.Drain: Rights(insert=True, update=("again", "token", "until")),
    owed.Deferral: Rights(insert=True, update=("attempts", "error", "until"), delete=True),
    owed.ClientKey: Rights(delete=True),
}
# A week is stored as its Monday in UTC.
RETENTION: Mapping[type[models.Model], Retention] = {
    BusyWeek: Retention(
        columns=("id", "owner_id", "week"), over="week < date_trunc('week', now() AT TIME ZONE 'UTC')::date"
    ),
}


def private_models() -> list[type[models.Model]]:
    """The models with private rows."""
    return [model for model in apps.get_models() if getattr(model, "privacy", "") == PRIVATE]


def statements(role: str, connection: Any) -> Iterator[str]:
    """The statements that grant ``role`` the rights of the jobs. The owner of the tables runs them.

    Idempotent: they revoke all earlier rights first. They have to be run again after every migration.
    """
    quote = connection.ops.quote_name
    name, schema = quote(role), quote("public")
    yield f"GRANT USAGE ON SCHEMA {schema} TO {name}"
    yield f"REVOKE ALL ON ALL TABLES IN SCHEMA {schema} FROM {name}"
    yield f"REVOKE ALL ON ALL SEQUENCES IN SCHEMA {schema} FROM {name}"
    for model, rights in RIGHTS.items():
        yield from _of_model(model, rights, name, quote)
    for model in private_models():
        yield from _of_private(quote(model._meta.db_table), RETENTION.get(model), name, quote)


def _of_model(model: type[models.Model], rights: Rights, name: str, quote: Any) -> Iterator[str]:
    table = quote(model._meta.db_table)
    seen = [field for field in model._meta.concrete_fields if field.name not in rights.hidden]
    yield f"GRANT SELECT ({', '.join(quote(field.column) for field in seen)}) ON {table} TO {name}"
    if rights.insert:
        yield f"GRANT INSERT ON {table} TO {name}"
    if rights.update:
        changed = [quote(column_of(model, field)) for field in rights.update]
        yield f"GRANT UPDATE ({', '.join(changed)}) ON {table} TO {name}"
    if rights.delete:
        yield f"GRANT DELETE ON {table} TO {name}"


def column_of(model: type[models.Model], name: str) -> str:
    """The database column of a field."""
    return next(str(field.column) for field in model._meta.concrete_fields if field.name == name)


def _of_private(table: str, retention: Retention | None, name: str, quote: Any) -> Iterator[str]:
    policy = quote(f"{table.strip(chr(34))}_jobs")
    yield f"DROP POLICY IF EXISTS {policy} ON {table}"
    if retention is None:
        return
    columns = ", ".join(quote(column) for column in retention.columns)
    yield f"GRANT SELECT ({columns}), DELETE ON {table} TO {name}"
    # Restrictive: it applies in addition to the policy that requires the owner as the reader.
    yield f"CREATE POLICY {policy} ON {table} AS RESTRICTIVE FOR DELETE TO {name} USING ({retention.over})"
