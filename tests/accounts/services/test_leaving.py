"""What is forgotten of somebody who is erased, also where its model is gone."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection

from accounts.models import Person
from accounts.services import leaving

# The columns that count, of the tables that a provider's connections are kept in.
TABLES = (
    "CREATE TABLE socialaccount_socialaccount (id integer PRIMARY KEY, uid varchar(191), user_id {person})",
    "CREATE TABLE socialaccount_socialtoken (id integer PRIMARY KEY, token text, account_id integer)",
)


@pytest.fixture
def subjects(manager: Person, report: Person) -> None:
    """Both are connected to a provider that is not configured any more: its tables are there, no model is."""
    column = Person._meta.pk.db_type(connection)
    with connection.cursor() as cursor:
        for statement in TABLES:
            cursor.execute(statement.format(person=column))
        for number, person in enumerate((manager, report), start=1):
            value = Person._meta.pk.get_db_prep_value(person.pk, connection)
            account = [number, f"subject {number}", value]
            cursor.execute("INSERT INTO socialaccount_socialaccount VALUES (%s, %s, %s)", account)
            cursor.execute("INSERT INTO socialaccount_socialtoken VALUES (%s, %s, %s)", [number, "t", number])


def kept() -> tuple[list[str], list[int]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT uid FROM socialaccount_socialaccount")
        uids = [row[0] for row in cursor.fetchall()]
        cursor.execute("SELECT account_id FROM socialaccount_socialtoken")
        return uids, [row[0] for row in cursor.fetchall()]


def test_subjects_at_a_provider_that_is_gone_are_forgotten(
    subjects: None, manager: Person, now: dt.datetime
) -> None:
    leaving.blank(person=manager, now=now)
    assert kept() == (["subject 2"], [2])


def test_where_there_never_was_a_provider_nothing_is_missed(manager: Person, now: dt.datetime) -> None:
    leaving.blank(person=manager, now=now)
    manager.refresh_from_db()
    assert manager.erased_at == now
