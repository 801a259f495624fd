"""Every route and method, asked by every actor for every thing: nobody gets more than the table says."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from django.apps import apps
from django.conf import settings
from django.db import connection
from django.test import override_settings

from accounts.models import DayAway, Person
from oneonone.models import LogbookEntry, MarginNote, PersonKey
from oneonone.models.base import PRIVATE
from oneonone.selectors.people.sessions import SEEN_AT, SIGNED_IN_AT
from oneonone.services.private import keys
from oneonone.web.signing_in.session_store import SessionStore
from tests.security import account_matrix, routes, tables
from tests.security.account_rows import ACCOUNT_ROWS
from tests.security.browser import Browser
from tests.security.matrix import Matrix, undone, unlogged
from tests.security.rows import DEMO_ROWS, ROWS, Row
from tests.security.world import MISSING, NOW, PASSWORD, SIDES, TODAY

pytestmark = pytest.mark.django_db


def _ids(rows: tuple[Row, ...]) -> list[str]:
    return [row.key.replace(" ", "-") for row in rows]


@pytest.mark.parametrize("row", ROWS, ids=_ids(ROWS))
def test_each_cell_is_as_the_table_says(counted: Matrix, row: Row) -> None:
    wrong, wrote = counted.run(row)
    assert not wrong, f"{len(wrong)} cells are not as the table says:\n" + "\n".join(wrong)
    if "POST" in row.methods and row.acts:
        assert wrote, "no accepted POST changed anything: what it sends is not what the page takes"


@pytest.mark.parametrize("row", DEMO_ROWS, ids=_ids(DEMO_ROWS))
def test_each_cell_of_the_demo_is_as_the_table_says(counted: Matrix, row: Row, tmp_path: Path) -> None:
    with override_settings(ROOT_URLCONF="tests.security.demo_urls", DEMO=True, MAIL_FOLDER=tmp_path / "mail"):
        wrong, _wrote = counted.run(row)
    assert not wrong, f"{len(wrong)} cells are not as the table says:\n" + "\n".join(wrong)


@pytest.mark.parametrize("key", ACCOUNT_ROWS, ids=lambda key: key.replace(" ", "-"))
def test_each_page_about_signing_in_is_as_the_table_says(counted: Matrix, key: str) -> None:
    path = next("/" + route.pattern for route in routes.of_the_server() if route.key == key)
    assert account_matrix.run(counted, ACCOUNT_ROWS[key], key, path.replace("<int:pk>", "1")) == []


@pytest.mark.parametrize("act", ["remove", "edit"])
def test_somebody_elses_passkey_is_as_good_as_missing(matrix: Matrix, act: str) -> None:
    person = matrix.world.people["report"]
    with undone():
        theirs = Authenticator.objects.create(
            user=person, type=Authenticator.Type.WEBAUTHN, data={"name": "Pier phone", "credential": {}}
        )
        browser = matrix.browsers["manager"]
        browser.ask("POST", "/account/reauthenticate/", {"password": PASSWORD})
        before = tables.sums()
        for method, data in (("GET", None), ("POST", {"name": "Mine now"})):
            hidden, missing = (
                browser.ask(method, f"/account/2fa/webauthn/keys/{pk}/{act}/", data)
                for pk in (theirs.pk, theirs.pk + 1)
            )
            assert hidden.status == 404
            assert hidden.sameness == missing.sameness
        assert tables.changed(before, tables.sums()) == []


@pytest.mark.parametrize(
    "row",
    [row for row in ROWS if "POST" in row.methods and row.name != "unsubscribe"],
    ids=lambda row: row.key,
)
def test_no_act_is_taken_without_the_token_of_the_form(matrix: Matrix, row: Row) -> None:
    """ASVS 5.0, 3.5.1: a request that another site makes with the reader's cookies does nothing."""
    thing = next((t for t in matrix.world.things.get(row.kind, [])), matrix.world.missing(row.kind))
    for actor in ("manager", "report", "administrator"):
        browser = Browser(matrix.browsers[actor].cookies, checks_csrf=True)
        send: Any = row.send(matrix.world) if callable(row.send) else row.send
        with undone(), unlogged():
            answer = browser.ask("POST", matrix.path(row, thing), send, HTTP_ORIGIN="https://evil.example")
            assert answer.status == 403
            assert tables.changed(matrix.baseline, tables.sums()) == []
        with undone(), unlogged():
            assert browser.ask("POST", matrix.path(row, thing), send).status == 403


@pytest.mark.parametrize("path", ["/no/such/page/", "/lines/17/", f"/lines/{MISSING}/nothing/"])
@pytest.mark.parametrize("actor", ["anonymous", "manager", "superuser", "deactivated"])
def test_an_address_that_leads_nowhere_is_as_good_as_a_hidden_one(
    matrix: Matrix, actor: str, path: str
) -> None:
    """For somebody who is not signed in, as good as the page of a link that was never given out."""
    with undone(), unlogged():
        browser = matrix.browsers[actor]
        nowhere = browser.ask("GET", path)
        hidden = browser.ask("GET", "/setup/no-such-token/")
        assert nowhere.status == 404
        assert nowhere.sameness[:3] == hidden.sameness[:3]


def test_looking_changes_nothing_but_when_the_session_was_last_used(matrix: Matrix) -> None:
    browser = matrix.browsers["manager"]
    with undone():
        session = SessionStore(browser.cookies[settings.SESSION_COOKIE_NAME])
        session[SEEN_AT] = session[SIGNED_IN_AT] = int(time.time()) - 2 * 3600
        session.save()
        noted = []
        for _look in range(2):
            answer = browser.ask("GET", "/settings/")
            assert answer.status == 200
            assert tables.changed(matrix.baseline, tables.sums()) == []
            noted += [sql for sql in answer.statements if sql.startswith(("INSERT", "UPDATE", "DELETE"))]
        # The second look within an hour writes nothing at all.
        assert ["accounts_session" in sql for sql in noted] == [True]


def _writes_in_the_logbook(person: Person) -> None:
    """A row that row-level security would keep from the sums, were they made by the role of the pages."""
    entry = LogbookEntry(owner=person, created_on=TODAY, changed_on=TODAY)
    keys.seal_for(author=person, row=entry, payload={"words": "Ask."}, now=NOW)
    entry.save(force_insert=True)


ACTS: dict[str, Callable[[Person], Any]] = {
    "changed": lambda person: Person.objects.filter(pk=person.pk).update(name="Somebody Else"),
    "new": lambda person: Person.objects.create_user(email="new@example.org", name="New", now=NOW),
    "related": lambda person: person.notices.create(kind="joined", subject=person.pk, owed_at=NOW),
    "lost": lambda person: DayAway.objects.all().delete(),
    "private": _writes_in_the_logbook,
}


@pytest.mark.parametrize("act", ACTS)
def test_a_changed_row_of_any_table_is_seen(matrix: Matrix, act: str) -> None:
    """The sums are what every refusal is judged by: a new, a changed and a lost row each show."""
    with undone():
        before = tables.touched()
        ACTS[act](matrix.world.people["outsider"])
        assert tables.touched() > before
        assert tables.changed(matrix.baseline, tables.sums()) != []
    assert tables.changed(matrix.baseline, tables.sums()) == []


def test_private_rows_are_in_the_sums(matrix: Matrix) -> None:
    """On PostgreSQL too, where the role of the pages sees none of them."""
    private = [
        model._meta.db_table for model in apps.get_models() if getattr(model, "privacy", "") == PRIVATE
    ]
    counted = {table: int(said.split()[0]) for table, said in matrix.baseline.items() if table in private}
    assert set(counted) == set(private)
    assert counted[MarginNote._meta.db_table] > 10
    assert counted[PersonKey._meta.db_table] >= len(SIDES)
    seen = MarginNote._base_manager.count()
    assert seen == (0 if connection.vendor == "postgresql" else counted[MarginNote._meta.db_table])


def test_a_row_written_and_taken_back_is_noticed_and_changes_nothing(matrix: Matrix) -> None:
    before = tables.touched()
    with undone():
        _writes_in_the_logbook(matrix.world.people["outsider"])
    assert tables.touched() > before
    assert tables.sums() == matrix.baseline
