"""A database role for the jobs: it runs them all, and no private row is read or taken before its time."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from typing import Any

import pytest
from django.apps import apps
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import ProgrammingError, connection, models, transaction

from accounts.models import Person
from accounts.services import invitations
from oneonone import clock
from oneonone.models import BusyTimes, BusyWeek, Deferral, Drain, JobHealth, Line, Meeting, rights
from oneonone.models.rows_of import as_reader
from oneonone.services.notices import mails
from oneonone.services.private import keys
from tasks import schedule
from tests.cast import NOW
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


def test_every_job_runs_under_it(
    role: str,
    closed_meeting: Meeting,
    manager: Person,
    settings: Any,
    caplog: pytest.LogCaptureFixture,
    held_clock: dt.datetime,
) -> None:
    """Four months, day by day: meetings made, asked for and issued, carries, reminders, mails, upkeep."""
    settings.MAIL_CAN_LEAVE = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    busy(manager, LONG_GONE)
    BusyTimes.objects.create(owner=manager, oldest_week=LONG_GONE, latest_week=LONG_GONE, read_on=LONG_GONE)
    invitation, _token = invitations.invite(
        email="noor@example.org", name="Noor Haldane", invited_by=manager, now=NOW
    )
    mails.owe_invitation_mail(invitation=invitation, link="http://localhost:8000/", now=NOW)
    Line.objects.update(plan_at=NOW)
    given(role)
    with acting_as(role):
        for day in range(120):
            clock.hold_at(NOW + dt.timedelta(days=day))
            # Between ticks with their repairs, which would make a meeting before the job for it does.
            (schedule.drain if day % 30 else schedule.tick)()
        for job in (*schedule.REPAIRS, *schedule.JOBS):
            list(job.waiting(NOW))
    assert [record.getMessage() for record in caplog.records if record.levelname == "ERROR"] == []
    assert not Deferral.objects.exclude(error="").exists()
    assert not JobHealth.objects.filter(failures__gt=0).exists()
    well = set(JobHealth.objects.filter(last_success_at__isnull=False).values_list("job", flat=True))
    names = {job.name for job in schedule.JOBS} | {schedule.UPKEEP, schedule.DELIVER, "mail notices"}
    assert names - well <= {"lapse", "clocks", "cue", "give up", "ask left", "follow begun"}
    assert not Drain.objects.filter(until__isnull=False).exists()
    assert mail.outbox


def columns() -> list[tuple[type[models.Model], str, str]]:
    """Every column of every table, with its model and its field's name."""
    every = apps.get_models(include_auto_created=True)
    return [
        (model, field.name, str(field.column)) for model in every for field in model._meta.concrete_fields
    ]


def test_what_is_not_given_is_refused_by_table_and_column(role: str) -> None:
    given(role)
    wrong = []
    with acting_as(role):
        for model, name, column in columns():
            if model in rights.private_models():
                continue
            may, table = rights.RIGHTS.get(model), model._meta.db_table
            for verb, sql, allowed in (
                ("read", f'SELECT "{column}" FROM "{table}"', may is not None and name not in may.hidden),
                (
                    "change",
                    f'UPDATE "{table}" SET "{column}" = NULL WHERE false',
                    may is not None and name in may.update,
                ),
            ):
                if refused(sql) is allowed:
                    wrong.append(f"{verb} {table}.{column}: {'refused' if allowed else 'not refused'}")
    assert wrong == []


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT password FROM accounts_person",
        "SELECT * FROM accounts_person",
        "UPDATE accounts_person SET is_administrator = true",
        "UPDATE accounts_person SET is_active = true",
        "UPDATE accounts_person SET email = email",
        "DELETE FROM accounts_person",
        "SELECT key_hash FROM accounts_session",
        "INSERT INTO accounts_session (key_hash, payload, expires_at) VALUES ('x', 'x', now())",
        "DELETE FROM accounts_session",
        "SELECT token_hash FROM accounts_invitation",
        "UPDATE accounts_invitation SET token_hash = 'x'",
        "SELECT data FROM mfa_authenticator",
        "DELETE FROM mfa_authenticator",
        "SELECT email FROM account_emailaddress",
        "UPDATE account_emailaddress SET verified = true",
        "INSERT INTO oneonone_line (id) VALUES (gen_random_uuid())",
        "DELETE FROM oneonone_meeting",
        "SELECT words FROM oneonone_recordline",
        "DELETE FROM oneonone_auditevent",
        "CREATE TABLE mine (x int)",
        "SELECT nextval('account_emailaddress_id_seq')",
    ],
)
def test_the_role_is_refused_what_would_let_somebody_in_or_hide_something(role: str, sql: str) -> None:
    given(role)
    with acting_as(role):
        assert refused(sql)


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
