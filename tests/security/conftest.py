"""What the security tests share: the world of the matrix, one browser an actor, and the summary of a run."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
from _pytest.terminal import TerminalReporter
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP
from django.conf import settings
from django.db import connection, transaction
from django.test import Client, override_settings
from pytest_django.plugin import DjangoDbBlocker

from oneonone import clock
from oneonone.serving import setup_link
from tests.security import tables
from tests.security.browser import Browser, session_cookie
from tests.security.matrix import Matrix
from tests.security.world import NAMES, NOW, PASSWORD, World, make_world

QUICK = {
    "MAIL_CAN_LEAVE": True,
    # Who has just shown who they are stays so for the whole module, however slow the machine.
    "ACCOUNT_REAUTHENTICATION_TIMEOUT": 3600,
}


# The administrator in a browser in which he signed in some time ago.
A_WHILE_AGO = "administrator a while ago"


@pytest.fixture(autouse=True)
def clock_of_the_world() -> None:
    """The clock stands at the world's present in every test here."""
    clock.hold_at(NOW)


@pytest.fixture(scope="module")
def matrix(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Matrix]:
    """The world, made once for all tests of a module inside a transaction that is rolled back at the end.

    Each test marked ``django_db`` has a savepoint in it; that the connection is closed after each is put off.
    """
    with (
        django_db_blocker.unblock(),
        override_settings(**QUICK),
        pytest.MonkeyPatch.context() as patch,
        transaction.atomic(),
    ):
        patch.setattr(connection, "close", lambda: None)
        clock.hold_at(NOW)
        world = make_world()
        world.add("setup", "unused", setup_link.issue(Path(settings.DATA)))
        made = Matrix(world, browsers_of(world), tables.sums())
        gc.freeze()  # what is there by now is not looked through again at every collection
        yield made
        gc.unfreeze()
        setup_link.withdraw(Path(settings.DATA))
        transaction.set_rollback(True)


def browsers_of(world: World) -> dict[str, Browser]:
    """One for each actor, signed in as far as they get."""
    found = {"anonymous": Browser()} | {actor: _browser_of(world, actor) for actor in NAMES}
    return found | {A_WHILE_AGO: _browser_of(world, "administrator", lately=False)}


def _browser_of(world: World, actor: str, *, lately: bool = True) -> Browser:
    person = world.people[actor]
    client = Client()
    if actor in ("unverified", "second factor pending"):
        if actor != "unverified":
            TOTP.activate(person, "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ")
            assert Authenticator.objects.filter(user=person).exists()
        client.post("/account/login/", {"login": person.email, "password": PASSWORD})
        assert "_auth_user_id" not in client.session
    else:
        client.force_login(person)
        if actor == "administrator" and lately:
            # He has just shown that it is him, which acts on accounts ask for.
            client.post("/account/reauthenticate/", {"password": PASSWORD})
    if actor == "deactivated":
        person.is_active = False
        person.save(update_fields=["is_active"])
    return Browser(session_cookie(client.cookies[settings.SESSION_COOKIE_NAME].value))


@pytest.fixture
def counted(matrix: Matrix, record_property: Any) -> Iterator[Matrix]:
    """The matrix, with what a test asks of it added up for the summary."""
    matrix.tally = type(matrix.tally)()
    begun = perf_counter()
    yield matrix
    record_property("matrix", matrix.tally.as_property() | {"seconds": perf_counter() - begun})


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line(
        "markers", "hostile: every bad value in every field; minutes, run with -m hostile"
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """What takes minutes runs only when it is asked for."""
    if "hostile" in (config.option.markexpr or ""):
        return
    long = [item for item in items if item.get_closest_marker("hostile")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if item not in set(long)]


def pytest_terminal_summary(terminalreporter: TerminalReporter) -> None:
    """Say what the matrix asked, and how many cells went red with each guard off."""
    reports = [r for r in terminalreporter.stats.get("", []) if getattr(r, "when", "") == "teardown"]
    notes = [note for report in reports for note in report.user_properties]
    runs = [value for name, value in notes if name == "matrix"]
    lines = [value for name, value in notes if name == "security"]
    tried = [value for name, value in notes if name == "bad input"]
    if not (runs or lines or tried):
        return
    terminalreporter.section("security", sep="-")
    if runs:
        numbers = [len(set().union(*(run[part] for run in runs))) for part in SUMMED]
        of = ", ".join(f"{number} {part}" for number, part in zip(numbers, SUMMED, strict=True))
        cells, seconds = sum(run["cells"] for run in runs), sum(run["seconds"] for run in runs)
        terminalreporter.write_line(f"matrix: {cells} requests over {of}, in {seconds:.0f} s")
    if tried:
        terminalreporter.write_line(f"bad input: {sum(tried)} forms sent to {len(tried)} acts")
    for line in sorted(lines):
        terminalreporter.write_line(line)


SUMMED = ("routes", "methods", "actors", "things")
