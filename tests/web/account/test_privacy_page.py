"""What is private, and from whom: plain words, for everybody, also before signing in."""

from __future__ import annotations

import pytest
from django.test import Client

from accounts.models import Person
from tests.cast import ClientFor, assert_sees, body_of
from tests.web.account.markup import forbidden

SAID = [
    "only you",
    "Whoever runs the server has the key and the program, and could open your notes.",
    "sees what you see",
    "A court or an authority can order that they are opened.",
    "Private is not secret",
    "the key to their private notes is destroyed",
]


@pytest.mark.parametrize("words", SAID)
def test_it_says_what_this_protects_against_and_what_not(client: Client, db: None, words: str) -> None:
    assert_sees(client.get("/privacy/"), words)


def test_it_is_the_same_text_for_whoever_is_signed_in(client_for: ClientFor, outsider: Person) -> None:
    browser = client_for(outsider)
    for words in SAID:
        assert_sees(browser.get("/privacy/"), words)
    assert "end-to-end" not in body_of(browser.get("/privacy/"))


def test_it_holds_nothing_the_policy_forbids_and_answers_no_act(client: Client, db: None) -> None:
    assert forbidden(body_of(client.get("/privacy/"))) == []
    assert client.post("/privacy/").status_code == 405
