"""One's own sessions: listed, ended for good, and only one's own."""

from __future__ import annotations

import pytest
from django.test import Client

from accounts.models import Person, Session
from accounts.services import leaving
from oneonone.models import AuditEvent
from oneonone.selectors.people import sessions
from tests.cast import assert_not_sees, assert_sees, body_of, queries
from tests.web.account.doorstep import PASSWORD, is_signed_in, sign_in
from tests.web.account.markup import forbidden
from tests.web.gallery.markup import read

PAGE, END = "/account/sessions/", "/account/sessions/end/"


def browser(person: Person, name: str) -> Client:
    client = Client(headers={"User-Agent": name})
    sign_in(client, person.email)
    return client


@pytest.fixture
def here(tomas: Person) -> Client:
    return browser(tomas, "Pier desk")


@pytest.fixture
def there(tomas: Person, here: Client) -> Client:
    return browser(tomas, "Wheelhouse tablet")


def say_who(client: Client) -> None:
    client.post("/account/reauthenticate/", {"password": PASSWORD})


def named(browser: str) -> str:
    """What names the session of a browser on the list."""
    found = [row.pk for row in Session.objects.all() if sessions.payload(row).get("browser") == browser]
    assert len(found) == 1
    return found[0]


def names(client: Client) -> list[str]:
    rows = read(body_of(client.get(PAGE))).one("tbody").all("tr")
    return [row.one("th").words() for row in rows]


def test_it_lists_where_one_is_signed_in_this_place_first(here: Client, there: Client) -> None:
    assert names(here) == ["This one: Pier desk", "Wheelhouse tablet"]
    assert names(there) == ["This one: Wheelhouse tablet", "Pier desk"]
    page = here.get(PAGE)
    assert_sees(page, "127.0.0.1")
    assert forbidden(body_of(page)) == []


def test_a_session_is_on_the_list_from_the_moment_of_signing_in(tomas: Person) -> None:
    """One that was opened and not used yet could otherwise not be found and ended."""
    browser(tomas, "Somebody elses")
    assert names(browser(tomas, "Pier desk")) == ["This one: Pier desk", "Somebody elses"]


def test_ending_one_asks_who_one_is_and_then_ends_it_for_good(here: Client, there: Client) -> None:
    asked = here.post(END, {"session": named("Wheelhouse tablet")})
    assert asked["Location"].startswith("/account/reauthenticate/")
    assert is_signed_in(there)
    here.post(asked["Location"], {"password": PASSWORD, "next": END})
    assert not is_signed_in(there)
    assert there.get("/settings/").status_code == 302
    assert is_signed_in(here)
    assert names(here) == ["This one: Pier desk"]


def test_a_wrong_password_ends_nothing(here: Client, there: Client) -> None:
    asked = here.post(END, {"session": "others"})
    here.post(asked["Location"], {"password": "seven lamps on a short quay", "next": END})
    assert is_signed_in(there)


def test_all_the_others_are_ended_at_once(here: Client, there: Client, tomas: Person) -> None:
    third = browser(tomas, "Ticket desk")
    say_who(here)
    assert_sees(here.post(END, {"session": "others"}, follow=True), "2 sessions are ended.")
    assert [is_signed_in(client) for client in (here, there, third)] == [True, False, False]
    assert Session.objects.count() == 1


def test_nobody_ends_or_sees_a_session_of_somebody_else(
    here: Client, there: Client, outsider: Person
) -> None:
    outsider.set_password(PASSWORD)
    outsider.save()
    stranger = browser(outsider, "Stranger")
    say_who(stranger)
    answers = [
        stranger.post(END, {"session": number}, follow=True)
        for number in (named("Wheelhouse tablet"), "0" * 64, 10**30, "x", "", "-1", "²", "\0" * 64)
    ]
    for answer in answers:
        assert_sees(answer, "Nothing was changed: that session is over already.")
    stranger.post(END, {"session": "others"})
    assert is_signed_in(here)
    assert is_signed_in(there)
    assert_not_sees(stranger.get(PAGE), "Wheelhouse tablet")


def test_a_session_that_a_new_password_has_ended_is_not_on_the_list(
    here: Client, there: Client, tomas: Person
) -> None:
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    here.post("/account/password/change/", {"oldpassword": PASSWORD, **new})
    assert is_signed_in(here)
    assert there.get("/settings/").status_code == 302
    assert names(here) == ["This one: Pier desk"]


def test_what_was_ended_is_noted_without_saying_where(here: Client, there: Client, tomas: Person) -> None:
    say_who(here)
    here.post(END, {"session": named("Wheelhouse tablet")})
    event = AuditEvent.objects.get(act="sessions ended")
    assert (event.actor, event.facts) == (tomas, {"number": 1})


def test_ended_elsewhere_it_is_gone_from_the_list(here: Client, there: Client, tomas: Person) -> None:
    leaving.end_session(person=tomas, key_hash=named("Wheelhouse tablet"))
    assert names(here) == ["This one: Pier desk"]


def test_it_costs_the_same_with_many_sessions(here: Client, tomas: Person) -> None:
    browser(tomas, "Second")
    with queries() as few:
        here.get(PAGE)
    for number in range(4):
        browser(tomas, f"Place {number}")
    with queries() as many:
        here.get(PAGE)
    assert len(many) == len(few)


def test_looking_ends_nothing_and_needs_no_password(here: Client, there: Client) -> None:
    assert here.get(END).status_code == 405
    assert here.get(PAGE).status_code == 200
    assert is_signed_in(there)
