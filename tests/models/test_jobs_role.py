"""A database role for the jobs: it runs them all, and no private row is read or taken before its time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import ProgrammingError, connection, transaction

from accounts.models import Person
from oneonone.models import BusyWeek, rights
from oneonone.models.rows_of import as_reader
from oneonone.services import keys
from tasks.schedule import run_once
from tests.cast import NOW
from tests.scene import Brought
from tests.security import superuser

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db]
LONG_GONE, FAR_AHEAD = dt.date(2001, 1, 1), dt.date(2990, 1, 1)
READABLE = {column for kept in rights.RETENTION.values() for column in kept.columns}


@pytest.fixture(scope="module")
def role(django_db_setup: None) -> Iterator[str]:
    """An ordinary role that the tests' own may act as; gone once every transaction of the module is over."""
    name = f"jobs_of_{connection.settings_dict['NAME']}"
    with superuser.connected() as there:
        there.execute(f'DROP ROLE IF EXISTS "{name}"'.encode())
        there.execute(f'CREATE ROLE "{name}" NOSUPERUSER NOBYPASSRLS'.encode())
        there.execute(f'GRANT "{name}" TO "{connection.settings_dict["USER"]}"'.encode())
    yield name
    with superuser.connected() as there:
        there.execute(f'DROP ROLE "{name}"'.encode())


@contextmanager
def acting_as(role: str) -> Iterator[None]:
    with connection.cursor() as cursor:
        cursor.execute(f'SET LOCAL ROLE "{role}"')
    yield
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")


def given(role: str) -> str:
    said = StringIO()
    call_command("jobs_role", role, stdout=said)
    return said.getvalue()


def refused(sql: str) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql)
    except ProgrammingError as error:
        return "permission denied" in str(error)
    return False


def busy(owner: Person, week: dt.date) -> BusyWeek:
    row = BusyWeek(owner=owner, week=week, created_on=NOW.date(), changed_on=NOW.date())
    keys.seal_for(author=owner, row=row, payload={"blocks": []}, now=NOW)
    row.save(force_insert=True)
    return row


def test_every_job_runs_under_it(role: str, brought: Brought, caplog: pytest.LogCaptureFixture) -> None:
    given(role)
    with acting_as(role):
        done = run_once(NOW + dt.timedelta(days=30))
    assert sum(done.done.values()) > 0
    assert [record.message for record in caplog.records if "stopped" in record.message] == []


def test_it_reads_no_column_of_a_private_table_but_those_retention_goes_by(role: str) -> None:
    given(role)
    with acting_as(role):
        for model in rights.private_models():
            table = model._meta.db_table
            assert refused(f"SELECT * FROM {table}"), table
            assert refused(f"UPDATE {table} SET id = id"), table
            for field in model._meta.concrete_fields:
                may = model in rights.RETENTION and field.column in READABLE
                assert refused(f'SELECT "{field.column}" FROM {table}') is not may, f"{table}.{field.column}"


def test_it_deletes_what_is_over_and_nothing_else(role: str, report: Person, manager: Person) -> None:
    past, ahead, others = busy(report, LONG_GONE), busy(report, FAR_AHEAD), busy(manager, LONG_GONE)
    given(role)
    with acting_as(role), as_reader(report.pk):
        assert BusyWeek.objects.of(report).delete()[0] == 1
    assert not BusyWeek.objects.of(report).filter(pk=past.pk).exists()
    assert BusyWeek.objects.of(report).filter(pk=ahead.pk).exists()
    assert BusyWeek.objects.of(manager).filter(pk=others.pk).exists()
    with acting_as(role):
        assert refused("DELETE FROM oneonone_marginnote")


def test_rights_that_were_given_by_mistake_are_taken_back(role: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f'GRANT SELECT ON oneonone_personkey TO "{role}"')
    given(role)
    given(role)
    with acting_as(role):
        assert refused("SELECT * FROM oneonone_personkey")


@pytest.mark.parametrize(("name", "said"), [("nobody", "no role"), ("postgres", "passes by")])
def test_a_role_that_is_not_there_or_sees_all_is_refused(name: str, said: str) -> None:
    with pytest.raises(CommandError, match=said):
        given(name)


def test_without_rights_the_role_can_do_nothing(role: str) -> Any:
    with acting_as(role):
        assert refused("SELECT * FROM oneonone_meeting")
