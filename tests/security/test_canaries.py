"""Private words are nowhere but on their author's own pages: every place is searched, in every spelling.

The controls say that the search would find: shared words where they belong, each author's own words on their
page, and one leak of each kind, planted.
"""

from __future__ import annotations

import json
import logging
import re
import zlib
from base64 import b64encode, urlsafe_b64encode
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import redis
from django.apps import apps
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.core.mail import EmailMessage
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test import override_settings
from django.urls import path
from pytest_django.plugin import DjangoDbBlocker

from oneonone import clock, doorbell
from oneonone.celery import app
from oneonone.models import MarginNote, Sealed
from oneonone.selectors.private import keys
from oneonone.web.signing_in.session_store import SessionStore
from tests.engines import throwaway
from tests.security import journeys, tables
from tests.security.browser import Browser
from tests.security.collectors import Evidence, Piece, collecting
from tests.security.conftest import QUICK, browsers_of
from tests.security.journeys import Planted
from tests.security.matrix import Matrix
from tests.security.owndatabase import own_database
from tests.security.spellings import ways
from tests.security.world import NAMES, NOW, PRIVATE_CORE, SHARED_CORE, make_world, private_word, shared_word

# One process for all of them: planting and searching is done once for the whole module.
pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("canaries")]
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
    """The world in a database of its own, with everything kept that the journeys do not undo."""
    folder = tmp_path_factory.mktemp("canary")
    with django_db_blocker.unblock(), override_settings(**QUICK), own_database(folder):
        clock.hold_at(NOW)
        cache.clear()
        world = make_world()
        matrix = Matrix(world, browsers_of(world), tables.sums())
        planted = journeys.plant(matrix)
        evidence = Evidence()
        with collecting(evidence):
            requests = journeys.travel(matrix, evidence)
        yield Journey(matrix, evidence, planted, requests)


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


def test_every_kind_of_private_row_holds_a_canary(journey: Journey) -> None:
    """A new one has to be planted in ``journeys.plant``, or nobody would notice where its words come out."""
    sealed = [model for model in apps.get_models() if issubclass(model, Sealed)]
    people = journey.matrix.world.people.values()
    without = {
        model.__name__
        for model in sealed
        if not any(
            PRIVATE_CORE in json.dumps(keys.open_for(person, row))
            for person in people
            for row in model.objects.of(person)
        )
    }
    assert without == set()


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


def test_shared_words_are_found_in_each_part_of_the_database(journey: Journey) -> None:
    """A part in which nothing is ever found would be a part that was not really read."""
    pieces = [piece for piece in journey.evidence.pieces if piece.place == "database"]
    parts = ["canaries.sqlite3", "canaries.sqlite3-wal"]
    if connection.vendor == "postgresql":
        number = connection.settings_dict["NAME"]
        with connection.cursor() as cursor:
            cursor.execute("SELECT oid FROM pg_database WHERE datname = %s", [number])
            parts = ["pg_dump", "pg_wal/", f"{cursor.fetchone()[0]}/"]
        assert any(piece.about == throwaway.SERVER_LOG for piece in pieces)
    for part in parts:
        mine = [piece for piece in pieces if piece.about == part or (part[-1] == "/" and part in piece.about)]
        assert any(ways(piece.data, SHARED_CORE) for piece in mine), part


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
    logging.getLogger("oneonone.services.private.margin").debug("kept %s", WORD)


def through_a_task(evidence: Evidence) -> None:
    app.send_task(doorbell.DRAIN, args=[WORD], retry=False, ignore_result=True)


def through_a_session(evidence: Evidence) -> None:
    store = SessionStore()
    store["draft"] = WORD
    store.save()


def through_the_cache(evidence: Evidence) -> None:
    cache.set("draft", WORD)


def through_a_message(evidence: Evidence) -> None:
    with redis.Redis.from_url(settings.REDIS_URL) as client:
        client.publish("meeting:1", WORD)


def through_a_key_that_is_soon_gone(evidence: Evidence) -> None:
    with redis.Redis.from_url(settings.REDIS_URL) as client:
        client.set("draft", zlib.compress(WORD.encode()))
        client.delete("draft")


def through_a_mail(evidence: Evidence) -> None:
    EmailMessage("Your one-on-one", f"Ask about {WORD} – é", to=["ines@example.org"]).send()


def leaks_at(place: str, evidence: Evidence) -> list[str]:
    """What has been found in one place. PostgreSQL's files keep what an earlier control had planted."""
    return leaks([piece for piece in evidence.pieces if piece.place == place])


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
    places = ("redis", "cache") if place == "cache" else (place,)
    assert any(leaks_at(place, evidence) for place in places)


@pytest.mark.postgresql
@pytest.mark.parametrize("plant", [through_a_message, through_a_key_that_is_soon_gone])
def test_what_passes_through_redis_is_caught(journey: Journey, plant: Callable[[Evidence], None]) -> None:
    evidence = Evidence()
    with collecting(evidence):
        plant(evidence)
    assert any(piece.about == "given" and leaks([piece]) for piece in evidence.pieces)
    assert not any(leaks([piece]) for piece in evidence.pieces if piece.place == "redis" and not piece.about)


def test_a_row_that_told_its_words_would_be_caught(journey: Journey, monkeypatch: pytest.MonkeyPatch) -> None:
    person = journey.matrix.world.people["manager"]
    note = MarginNote.objects.of(person)[0]
    words = str(keys.open_for(person, note)["words"])
    evidence = Evidence()
    with collecting(evidence):
        logging.getLogger("oneonone").info("kept %s", note)
    assert leaks_at("logs", evidence) == []
    monkeypatch.setattr(MarginNote, "__str__", lambda row: words)
    with collecting(evidence):
        logging.getLogger("oneonone").info("kept %s", note)
    assert leaks_at("logs", evidence)


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
