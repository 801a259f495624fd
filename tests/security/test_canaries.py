"""Private words are nowhere but on their author's own pages: every place is searched, in every spelling.

The controls say that the search would find: shared words where they belong, each author's own words on their
page, and one leak of each kind, planted.
"""

from __future__ import annotations

import logging
import re
import sqlite3
import zlib
from base64 import b64encode, urlsafe_b64encode
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.sessions.backends.db import SessionStore
from django.core.cache import cache
from django.core.mail import EmailMessage
from django.core.management import call_command
from django.db import connection, connections
from django.http import HttpRequest, HttpResponse
from django.test import override_settings
from django.urls import path
from pytest_django.plugin import DjangoDbBlocker

from oneonone import clock, doorbell
from oneonone.celery import app
from oneonone.models import MarginNote
from oneonone.selectors import keys
from tests.security import journeys, tables
from tests.security.browser import Browser
from tests.security.collectors import Evidence, Piece, collecting
from tests.security.conftest import QUICK, browsers_of
from tests.security.journeys import Planted
from tests.security.matrix import Matrix
from tests.security.spellings import ways
from tests.security.world import NAMES, NOW, PRIVATE_CORE, SHARED_CORE, make_world, private_word, shared_word

# The journeys keep what they write, which other tests on the same PostgreSQL database would find.
pytestmark = [pytest.mark.django_db, pytest.mark.sqlite]
# Private words that a place may hold, with the reason.
EXPECTED = {
    "logs, while DEBUG was on": "the framework's error page shows all variables of a failed request to "
    "whoever made it, and its template engine logs them; DEBUG is a constant, off, that nothing turns on",
}
ON_EVERY_ENGINE = {"responses", "logs", "mails", "tasks", "sessions", "database"}


@dataclass
class Journey:
    matrix: Matrix
    evidence: Evidence
    planted: Planted
    requests: int


@pytest.fixture(scope="module")
def journey(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Journey]:
    """The world in a database on the disk, with everything kept that the journeys do not undo."""
    file = tmp_path_factory.mktemp("canary") / "canaries.sqlite3"
    with django_db_blocker.unblock(), override_settings(**QUICK), on_disk(file):
        clock.hold_at(NOW)
        cache.clear()
        world = make_world()
        matrix = Matrix(world, browsers_of(world), tables.sums())
        planted = journeys.plant(matrix)
        evidence = Evidence()
        with collecting(evidence):
            requests = journeys.travel(matrix, evidence)
        yield Journey(matrix, evidence, planted, requests)


@contextmanager
def on_disk(file: Path) -> Iterator[None]:
    """The empty test database in a file, with a log of writes; PostgreSQL is emptied at the end.

    There the connection may be closed and opened again; SQLite's stays open until then.
    """
    before = connections["default"]
    with pytest.MonkeyPatch.context() as patch:
        if connection.vendor != "sqlite":
            try:
                yield
            finally:
                call_command("flush", interactive=False, verbosity=0)
            return
        before.ensure_connection()
        copy = sqlite3.connect(file)
        before.connection.backup(copy)
        copy.close()
        there = type(before)({**before.settings_dict, "NAME": str(file)}, "default")
        connections["default"] = there
        with there.cursor() as cursor:
            cursor.execute("PRAGMA journal_mode=WAL")
        patch.setattr(there, "close", lambda: None)
        try:
            yield
        finally:
            connections["default"] = before
    there.close()


def leaks(pieces: list[Piece], core: str = PRIVATE_CORE) -> list[str]:
    """Where private words are, in which spelling, but where their own author is the only reader."""
    found = []
    for piece in pieces:
        data = piece.data
        if piece.reader:
            own = re.escape(private_word(piece.reader, "")).encode()
            data = re.sub(own + rb"[A-Za-z]*", b"", data)
        found += [f"{piece.place}, {piece.about}: {way}" for way in ways(data, core)]
    return found


def test_private_words_are_nowhere_but_on_their_authors_pages(journey: Journey, record_property: Any) -> None:
    found = {leak.partition(":")[0] for leak in leaks(journey.evidence.pieces)}
    assert found - set(EXPECTED) == set()
    assert not settings.DEBUG
    sizes, kinds = journey.evidence.places(), journey.planted.kinds
    searched = ", ".join(f"{place} {size // 1024} KiB" for place, size in sorted(sizes.items()))
    planted = ", ".join(f"{number} {kind}" for kind, number in kinds.items())
    line = f"canaries: {sum(kinds.values())} planted ({planted}); {journey.requests} requests; found 0 in"
    record_property("security", f"{line} {len(journey.evidence.pieces)} pieces: {searched}")


def test_every_place_has_said_something(journey: Journey) -> None:
    sizes = journey.evidence.places()
    assert {place for place in ON_EVERY_ENGINE if not sizes.get(place)} == set()
    if connection.vendor == "postgresql":
        assert sizes["redis"]
    names = {piece.about for piece in journey.evidence.pieces if piece.place == "database"}
    assert len(names) > 1


def test_shared_words_are_found_where_they_belong(journey: Journey) -> None:
    for place in ("responses", "database", "logs"):
        pieces = [piece for piece in journey.evidence.pieces if piece.place == place]
        assert any(ways(piece.data, SHARED_CORE) for piece in pieces), place


def test_no_words_of_anybody_are_in_mails_tasks_or_sessions(journey: Journey) -> None:
    pieces = [p for p in journey.evidence.pieces if p.place in ("mails", "tasks", "redis")]
    assert pieces
    assert [p.about for p in pieces if ways(p.data, SHARED_CORE)] == []


@pytest.mark.parametrize("actor", ["manager", "report"])
def test_authors_find_their_own_words(journey: Journey, actor: str) -> None:
    mine = [piece.data for piece in journey.evidence.pieces if piece.reader == actor]
    assert any(private_word(actor, "own").encode() in data for data in mine)
    assert any(shared_word("own").encode() in data for data in mine)


def test_all_people_have_made_the_journey(journey: Journey) -> None:
    assert {piece.reader for piece in journey.evidence.pieces} >= set(NAMES)


# --- planted leaks: each collector catches what it is there for ----------------------------------------
WORD = private_word("manager", "own")


@login_not_required
def leaky(request: HttpRequest) -> HttpResponse:
    """A page that shows somebody's note to whoever asks."""
    return HttpResponse(f"<p>{WORD}</p>", headers={"X-Note": WORD[:40]})


urlpatterns = [path("leak/", leaky)]


def through_a_page(evidence: Evidence) -> None:
    with override_settings(ROOT_URLCONF=__name__):
        journeys.note(evidence, Browser().ask("GET", "/leak/"), "report", "a page")


def through_a_log(evidence: Evidence) -> None:
    logging.getLogger("oneonone.services.margin").debug("kept %s", WORD)


def through_a_task(evidence: Evidence) -> None:
    app.send_task(doorbell.DRAIN, args=[WORD], retry=False, ignore_result=True)


def through_a_session(evidence: Evidence) -> None:
    store = SessionStore()
    store["draft"] = WORD
    store.save()


def through_the_cache(evidence: Evidence) -> None:
    cache.set("draft", WORD)


def through_a_mail(evidence: Evidence) -> None:
    EmailMessage("Your one-on-one", f"Ask about {WORD} – é", to=["ines@example.org"]).send()


LEAKS: dict[str, Callable[[Evidence], None]] = {
    "responses": through_a_page,
    "logs": through_a_log,
    "tasks": through_a_task,
    "sessions": through_a_session,
    "cache": through_the_cache,
    "mails": through_a_mail,
}


@pytest.mark.parametrize("place", LEAKS)
def test_a_planted_leak_is_caught(journey: Journey, place: str) -> None:
    evidence = Evidence()
    with collecting(evidence):
        LEAKS[place](evidence)
    caught = {"redis", "cache"} if place == "cache" else {place}
    assert [leak for leak in leaks(evidence.pieces) if leak.split(",")[0] in caught]


def test_a_row_that_told_its_words_would_be_caught(journey: Journey, monkeypatch: pytest.MonkeyPatch) -> None:
    person = journey.matrix.world.people["manager"]
    note = MarginNote.objects.of(person)[0]
    words = str(keys.open_for(person, note)["words"])
    evidence = Evidence()
    with collecting(evidence):
        logging.getLogger("oneonone").info("kept %s", note)
    assert leaks(evidence.pieces) == []
    monkeypatch.setattr(MarginNote, "__str__", lambda row: words)
    with collecting(evidence):
        logging.getLogger("oneonone").info("kept %s", note)
    assert leaks(evidence.pieces)


def test_words_stored_in_plain_would_be_caught(journey: Journey) -> None:
    assert leaks([Piece("database", b"\0" * 90 + zlib.compress(WORD.encode()), "a page")])


ENCODED: dict[str, Callable[[str], bytes]] = {
    "as it is": str.encode,
    "base64": lambda word: b64encode(word.encode()),
    "base64 at 1": lambda word: b64encode(b"x" + word.encode()),
    "base64 at 2": lambda word: b64encode(b"xy" + word.encode()),
    "base64url": lambda word: urlsafe_b64encode(b"\xff" + word.encode()),
    "hex": lambda word: word.encode().hex().encode(),
    "lower case": lambda word: word.lower().encode(),
    "UTF-16": lambda word: word.encode("utf-16-le"),
    "percent": lambda word: "".join(f"%{ord(c):02X}" for c in word).encode(),
    "u-escaped": lambda word: "".join(f"\\u{ord(c):04x}" for c in word).encode(),
    "HTML": lambda word: "".join(f"&#{ord(c)};" for c in word).encode(),
    "zlib": lambda word: zlib.compress(word.encode()),
    "gzip": lambda word: zlib.compress(word.encode(), wbits=31),
    "cut short": lambda word: word[:16].encode(),
}


@pytest.mark.parametrize("way", ENCODED)
def test_a_word_is_found_however_it_is_encoded(way: str) -> None:
    hay = b"..." + ENCODED[way](WORD) + b"..."
    assert ways(hay, PRIVATE_CORE)
    assert ways(b"..." + ENCODED[way](shared_word("own")) + b"...", PRIVATE_CORE) == []


def test_ones_own_words_do_not_hide_somebody_elses() -> None:
    data = f"{private_word('manager', 'own')} and {private_word('report', 'own')}".encode()
    assert leaks([Piece("responses", data, "", "manager")])
    assert leaks([Piece("responses", private_word("manager", "own").encode(), "", "manager")]) == []
