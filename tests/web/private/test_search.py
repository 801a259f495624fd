"""The page that searches one's own notes."""

from __future__ import annotations

import datetime as dt
import logging
from typing import Any

import pytest
import redis
from django.conf import settings
from django.core.cache import cache
from django.urls import reverse

from accounts.models import Person, Session
from oneonone.models import Meeting
from oneonone.selectors.people import sessions
from oneonone.services.private import margin
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import Brought
from tests.web.gallery.markup import read

WORDS = "Ask about the spring *tide* first, <b>then</b> the rope."


@pytest.fixture
def noted(meeting: Meeting, brought: Brought, report: Person, now: dt.datetime) -> Meeting:
    """Tomas has written at the crane slot."""
    margin.write(
        topic=brought.crane, words=WORDS, unclear=False, revision=0, actor=report, now=now, today=now.date()
    )
    return meeting


def cached() -> list[str]:
    """All that the cache of this run holds, in the process or in Redis."""
    if not settings.REDIS_URL:
        return [str(value) for value in cache._cache.values()]  # type: ignore[attr-defined]
    store = redis.Redis.from_url(settings.REDIS_URL)
    return [f"{key!r} {store.dump(key)!r}" for key in store.scan_iter()]


def test_a_note_is_found_and_leads_to_where_it_stands(
    client_for: ClientFor, noted: Meeting, brought: Brought, report: Person, manager: Person
) -> None:
    answer = client_for(report).post(reverse("notes-search"), {"words": "TIDE"})
    assert_sees(answer, "Found in 1 note")
    assert_sees(answer, brought.crane.title)
    assert_sees(answer, f"with {manager.name}")
    page = read(body_of(answer))
    assert page.one("mark").words() == "tide"
    assert page.one("a", href=f"{reverse('meeting', args=[noted.pk])}#topic-{brought.crane.pk}")
    assert_sees(answer, "<b>then</b>")
    assert_not_sees(answer, "*tide*")
    assert page.all("b") == []


def test_the_other_side_finds_nothing(client_for: ClientFor, noted: Meeting, manager: Person) -> None:
    answer = client_for(manager).post(reverse("notes-search"), {"words": "tide"})
    assert_sees(answer, "Found in 0 notes")
    assert_not_sees(answer, "spring")


def test_what_it_does_and_how_far_it_looks_is_said(
    client_for: ClientFor, noted: Meeting, report: Person
) -> None:
    client = client_for(report)
    assert_sees(client.get(reverse("notes-search")), "The newest 2000 of your notes")
    assert_sees(client.post(reverse("notes-search"), {"words": "tide"}), "1 note of yours was searched.")


@pytest.mark.parametrize("words", ["", " ", "a", "\u0301\u0302", "x" * 101])
def test_too_little_or_too_much_is_refused_and_kept_in_the_field(
    client_for: ClientFor, report: Person, words: str
) -> None:
    answer = client_for(report).post(reverse("notes-search"), {"words": words})
    assert answer.status_code == 422
    assert "Found in" not in body_of(answer)
    if words == "x" * 101:
        assert words in body_of(answer)


def test_a_word_in_the_address_is_not_looked_for(
    client_for: ClientFor, noted: Meeting, report: Person
) -> None:
    answer = client_for(report).get(reverse("notes-search"), {"words": "tide", "q": "tide"})
    assert "Found in" not in body_of(answer)
    assert_not_sees(answer, "tide")


def test_nothing_of_a_search_stays_anywhere(
    client_for: ClientFor, noted: Meeting, report: Person, caplog: pytest.LogCaptureFixture
) -> None:
    client = client_for(report)
    caplog.set_level(logging.DEBUG)
    with queries() as made:
        answer = client.post(reverse("notes-search"), {"words": "spring tide"})
    assert answer.headers["Cache-Control"] == "no-store, max-age=0, no-cache, must-revalidate, private"
    assert "Location" not in answer.headers
    kept = [str(sessions.payload(row)) for row in Session.objects.all()]
    kept += cached()
    kept += [str(dict(client.cookies)), caplog.text, *(query["sql"] for query in made.captured_queries)]
    for text in kept:
        assert "spring" not in text
        assert "tide" not in text
    field = read(body_of(answer)).one("input", name="words").attributes
    assert (field["type"], field["autocomplete"]) == ("search", "off")
    assert field["value"] == "spring tide"


def test_it_works_without_script_and_leaves_no_trace_in_its_own_form(
    client_for: ClientFor, noted: Meeting, report: Person
) -> None:
    page = read(body_of(client_for(report).get(reverse("notes-search"))))
    form = page.one("input", name="words")
    assert form
    assert [node.attributes["method"] for node in page.all("form") if node.all("input", name="words")] == [
        "post"
    ]


def test_searching_without_end_is_stopped_for_a_while(
    client_for: ClientFor, noted: Meeting, report: Person, manager: Person, settings: Any
) -> None:
    """By a limit of hours here, so that no slow machine lets it pass."""
    assert settings.ACCOUNT_RATE_LIMITS["search_notes"]
    settings.ACCOUNT_RATE_LIMITS = settings.ACCOUNT_RATE_LIMITS | {"search_notes": "3/h/user"}
    client = client_for(report)
    for _ in range(3):
        assert client.post(reverse("notes-search"), {"words": "tide"}).status_code == 200
    stopped = client.post(reverse("notes-search"), {"words": "tide"})
    assert stopped.status_code == 429
    assert "Too many tries in a short time" in body_of(stopped)
    assert stopped.headers["Cache-Control"].startswith("no-store")
    assert client_for(manager).post(reverse("notes-search"), {"words": "tide"}).status_code == 200


def test_links_to_it_stand_where_one_looks_for_it(client_for: ClientFor, report: Person) -> None:
    client = client_for(report)
    for name in ("lines", "settings", "privacy"):
        assert f'href="{reverse("notes-search")}"' in body_of(client.get(reverse(name)))
