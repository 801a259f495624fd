"""On PostgreSQL the database itself keeps one person's private rows from another, whatever is forgotten."""

from __future__ import annotations

import datetime as dt
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.apps import apps
from django.db import IntegrityError, ProgrammingError, connection, transaction
from django.test import Client

from accounts.models import Person
from oneonone import checks
from oneonone.models import LogbookEntry, MarginNote, PersonKey
from oneonone.models.base import PRIVATE
from oneonone.models.rows_of import SETTING, ReaderLeftBehind, as_reader
from oneonone.services.private import keys
from tasks import schedule
from tests.cast import NOW, make_person

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db]

PRIVATE_TABLES = sorted(
    model._meta.db_table
    for model in apps.get_app_config("oneonone").get_models()
    if getattr(model, "privacy", "") == PRIVATE
)


def write(author: Person, words: str = "Ask about the night crossings.") -> LogbookEntry:
    row = LogbookEntry(owner=author, created_on=NOW.date(), changed_on=NOW.date())
    keys.seal_for(author=author, row=row, payload={"words": words}, now=NOW)
    row.save(force_insert=True)
    return row


def ask(sql: str, *params: Any) -> Any:
    """What a statement gives that names no owner."""
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return cursor.fetchone()[0]


def rows_there(table: str = "oneonone_logbookentry") -> int:
    found: int = ask(f"SELECT count(*) FROM {table}")
    return found


def reader() -> str:
    found: str = ask("SELECT coalesce(current_setting(%s, true), '')", SETTING)
    return found


@pytest.fixture
def two(manager: Person, report: Person) -> tuple[LogbookEntry, LogbookEntry]:
    """An entry of Ines and one of Tomas."""
    return write(manager), write(report)


def test_the_role_of_these_tests_is_an_ordinary_one() -> None:
    """A superuser, or a role that bypasses row security, would see everything, whatever the policies."""
    assert ask("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user") is False


@pytest.mark.parametrize("table", PRIVATE_TABLES)
def test_every_private_table_has_a_policy_that_also_holds_for_its_owner(table: str) -> None:
    assert (
        ask("SELECT relrowsecurity AND relforcerowsecurity FROM pg_class WHERE relname = %s", table) is True
    )
    assert ask("SELECT count(*) FROM pg_policies WHERE tablename = %s AND cmd = 'ALL'", table) == 1


def test_a_query_without_a_reader_sees_nothing(two: Any) -> None:
    assert reader() == ""
    assert rows_there() == 0
    assert rows_there("oneonone_personkey") == 0


def test_a_reader_sees_their_own_rows_and_no_others(two: Any, manager: Person, outsider: Person) -> None:
    with as_reader(manager.pk):
        assert rows_there() == 1
        assert ask("SELECT owner_id FROM oneonone_logbookentry") == manager.pk
        assert rows_there("oneonone_personkey") == 1
    with as_reader(outsider.pk):
        assert rows_there() == 0
        assert rows_there("oneonone_personkey") == 0


def test_without_the_policy_everything_would_be_seen(two: Any) -> None:
    """The twin: the tests above hang on the policy, and on its being forced on the owner of the table."""
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE oneonone_logbookentry NO FORCE ROW LEVEL SECURITY")
    assert rows_there() == 2


def test_a_forged_insert_is_refused(manager: Person, report: Person) -> None:
    row = LogbookEntry(owner=report, created_on=NOW.date(), changed_on=NOW.date())
    keys.seal_for(author=report, row=row, payload={"words": "Forged."}, now=NOW)
    with (
        pytest.raises(ProgrammingError, match="row-level security"),
        transaction.atomic(),
        as_reader(manager.pk),
    ):
        super(LogbookEntry, row).save_base(force_insert=True)
    assert LogbookEntry.objects.of(report).count() == 0


def test_a_row_cannot_be_given_to_another(two: Any, manager: Person, report: Person) -> None:
    with pytest.raises(ProgrammingError, match="row-level security"), transaction.atomic():
        LogbookEntry.objects.of(manager).update(owner=report)


def test_another_persons_rows_are_neither_changed_nor_deleted(
    two: Any, manager: Person, report: Person
) -> None:
    with as_reader(manager.pk), connection.cursor() as cursor:
        cursor.execute("UPDATE oneonone_logbookentry SET blob = ''")
        assert cursor.rowcount == 1
        cursor.execute("DELETE FROM oneonone_personkey")
        assert cursor.rowcount == 1
    assert PersonKey.objects.of(report).count() == 1
    assert keys.open_for(report, LogbookEntry.objects.of(report).get()) == {
        "words": "Ask about the night crossings."
    }


def test_the_reader_of_an_outer_block_is_set_again(two: Any, manager: Person, report: Person) -> None:
    with as_reader(manager.pk):
        assert LogbookEntry.objects.of(report).count() == 1
        assert reader() == str(manager.pk)
        with as_reader(report.pk):
            assert reader() == str(report.pk)
        assert reader() == str(manager.pk)
    assert reader() == ""


def test_every_kind_of_query_runs_as_the_reader(two: Any, manager: Person) -> None:
    mine = LogbookEntry.objects.of(manager)
    row = mine.get()
    assert mine.first() == row
    assert mine.exists()
    assert mine.count() == 1
    assert list(mine.iterator()) == [row]
    assert list(mine.values_list("pk", flat=True)) == [row.pk]
    assert mine.filter(pk=row.pk).select_for_update().first() == row
    row.refresh_from_db()
    row.save()
    assert mine.filter(pk=row.pk).update(changed_on=dt.date(2026, 11, 26)) == 1
    assert mine.filter(pk=row.pk).delete()[0] == 1
    second = write(manager)
    assert second.delete()[0] == 1
    assert reader() == ""


def test_a_failed_write_leaves_no_reader_behind(two: Any, manager: Person) -> None:
    first = PersonKey.objects.of(manager).get()
    again = PersonKey(person=manager, number=first.number, wrapped=b"x", created_at=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        again.save(force_insert=True)
    assert reader() == ""


def test_a_row_that_a_topic_hangs_on_is_still_kept_by_the_database(manager: Person) -> None:
    """Foreign keys look past the policies: a note of somebody cannot be made to point at nothing."""
    note = MarginNote(
        owner=manager,
        topic_id=UUID(int=7),
        blob=b"x",
        key_number=1,
        created_on=NOW.date(),
        changed_on=NOW.date(),
    )
    with pytest.raises(IntegrityError), transaction.atomic():
        _save_and_check(note)


def _save_and_check(note: MarginNote) -> None:
    note.save(force_insert=True)
    connection.check_constraints()


@pytest.mark.django_db(transaction=True)
def test_after_the_commit_the_connection_carries_no_reader_on() -> None:
    person = make_person("Ines Okafor")
    write(person)
    assert LogbookEntry.objects.of(person).count() == 1
    assert not connection.in_atomic_block
    assert (reader(), rows_there()) == ("", 0)
    with transaction.atomic():
        assert LogbookEntry.objects.of(person).exists()
        assert (reader(), rows_there()) == ("", 0)
    with pytest.raises(LookupError):
        _fail_as(person)
    assert (reader(), rows_there()) == ("", 0)


def _fail_as(person: Person) -> None:
    with as_reader(person.pk):
        assert reader() == str(person.pk)
        raise LookupError


def test_an_id_of_nobody_is_a_reader_of_nothing(two: Any) -> None:
    with as_reader(uuid4()):
        assert rows_there() == 0


def test_the_server_says_when_its_role_passes_by_row_security(monkeypatch: pytest.MonkeyPatch) -> None:
    assert checks.rows_are_secured(databases=["default"]) == []
    with connection.cursor() as cursor:
        # No role here may become a superuser, so the table that is asked is put in front of the real one.
        cursor.execute(
            "CREATE TEMPORARY VIEW pg_roles AS"
            " SELECT current_user AS rolname, true AS rolsuper, true AS rolbypassrls"
        )
        cursor.execute("SET LOCAL search_path = pg_temp, pg_catalog, public")
    (found,) = checks.rows_are_secured(databases=["default"])
    assert found.id == "oneonone.W003"


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("begun", ["request", "jobs"])
def test_a_connection_that_still_names_a_reader_answers_nobody(begun: str) -> None:
    """It is given up, and the connection after it names nobody again."""
    person = make_person("Ines Okafor")
    write(person)
    ask("SELECT set_config(%s, %s, false)", SETTING, str(person.pk))
    assert rows_there() == 1
    if begun == "request":
        answer = Client(raise_request_exception=False).get("/account/login/")
        assert answer.status_code == 500
    else:
        with pytest.raises(ReaderLeftBehind):
            schedule.drain()
    assert (reader(), rows_there()) == ("", 0)
    assert Client().get("/account/login/").status_code == 200
