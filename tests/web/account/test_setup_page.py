"""The first visit to an empty server: one link, once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client

from accounts.models import Person
from oneonone.models import Organisation
from oneonone.serving import setup_link
from tests.cast import assert_same_bytes, assert_sees, body_of
from tests.web.account.markup import forbidden

FIRST = {
    "organisation": "Alder Quay Ferries",
    "name": "Nils Haverkamp",
    "email": "Nils@Example.org",
    "password": "seven lamps on a long quay",
    "zone": "Europe/London",
}


@pytest.fixture
def page(db: None) -> Iterator[str]:
    """The address that the terminal shows."""
    folder = Path(settings.DATA)
    yield f"/setup/{setup_link.issue(folder)}/"
    setup_link.withdraw(folder)


def test_the_link_makes_the_administrator_and_goes_on_to_the_first_line(client: Client, page: str) -> None:
    assert_sees(client.get(page), "First steps")
    response = client.post(page, FIRST)
    assert (response.status_code, response["Location"]) == (302, "/one-on-ones/new/")
    person = Person.objects.get()
    assert (person.email, person.is_administrator) == ("nils@example.org", True)
    assert not person.is_staff
    assert not person.is_superuser
    assert Organisation.objects.get().name == "Alder Quay Ferries"
    assert client.session["_auth_user_id"] == str(person.pk)
    assert_sees(client.get("/settings/"), "Alder Quay Ferries")


def test_the_link_works_once(client: Client, page: str) -> None:
    client.post(page, FIRST)
    other = Client()
    again = other.post(page, FIRST | {"email": "second@example.org"})
    assert_same_bytes(again, other.get("/no/such/page/"))
    assert Person.objects.count() == 1


def test_looking_uses_nothing_up(client: Client, page: str) -> None:
    for _ in range(3):
        assert client.get(page).status_code == 200
    assert client.post(page, FIRST).status_code == 302


def test_any_other_link_is_the_missing_page(client: Client, page: str) -> None:
    for token in ("nothing", "a" * 43):
        assert_same_bytes(client.get(f"/setup/{token}/"), client.get("/no/such/page/"))
        assert client.post(f"/setup/{token}/", FIRST).status_code == 404
    assert not Person.objects.exists()


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"organisation": " "}, "Enter something here."),
        ({"organisation": "Alder\u202eQuay"}, "One line of ordinary characters."),
        ({"email": "nils at example.org"}, "not a complete address"),
        ({"name": "Nils\u2028Haverkamp"}, "without control characters"),
        ({"password": "short"}, "at least 15 characters"),
        ({"zone": "Europe/Alder"}, "Europe/Alder"),
    ],
)
def test_a_refusal_keeps_what_was_typed_and_the_link(
    client: Client, page: str, changed: dict[str, str], message: str
) -> None:
    response = client.post(page, FIRST | changed)
    assert response.status_code == 422
    text = body_of(response)
    assert message in text
    assert "Nils" in text
    assert FIRST["password"] not in text
    assert not Person.objects.exists()
    assert not Organisation.objects.exists()
    assert client.post(page, FIRST).status_code == 302


def test_a_server_that_has_people_is_not_set_up_again(client: Client, page: str, outsider: Person) -> None:
    response = client.post(page, FIRST)
    assert response.status_code == 422
    assert "This server has been set up already." in body_of(response)
    assert Person.objects.count() == 1


def test_other_methods_are_refused(client: Client, page: str) -> None:
    assert client.put(page).status_code == 405
    assert client.delete(page).status_code == 405


def test_the_page_holds_nothing_the_policy_forbids(client: Client, page: str) -> None:
    assert forbidden(body_of(client.get(page))) == []
