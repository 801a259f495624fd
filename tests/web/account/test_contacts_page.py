"""Who to turn to: the same for everybody, filled in by an administrator."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client

from accounts.models import Person
from oneonone.models import AuditEvent, Contact, Organisation
from tests.cast import ClientFor, assert_not_sees, assert_same_bytes, assert_sees, body_of, queries
from tests.web.account.markup import forbidden


@pytest.fixture
def organisation(db: None, now: dt.datetime) -> Organisation:
    """The ferry company, without contacts."""
    return Organisation.objects.create(name="Alder Quay Ferries", created_at=now)


def sent(*contacts: tuple[str, str, str], note: str = "", version: int = 1) -> dict[str, Any]:
    """The form as a browser sends it."""
    form: dict[str, Any] = {
        "note": note,
        "version": version,
        "contacts-TOTAL_FORMS": len(contacts),
        "contacts-INITIAL_FORMS": 0,
    }
    for number, (kind, name, how) in enumerate(contacts):
        form |= {
            f"contacts-{number}-kind": kind,
            f"contacts-{number}-name": name,
            f"contacts-{number}-how": how,
        }
    return form


PEOPLE = ("people", "Odile Marsh", "extension 14, the blue house")
SAFETY = ("safety", "Harbour watch", "channel 12")


def test_until_they_are_filled_in_the_page_says_that_they_are_missing(
    client_for: ClientFor, outsider: Person, organisation: Organisation
) -> None:
    response = client_for(outsider).get("/contacts/")
    assert_sees(response, "Not filled in yet")
    assert_sees(response, "People team, Safety, Harassment and discrimination")
    assert_not_sees(response, "Change the contacts")
    assert forbidden(body_of(response)) == []


def test_an_administrator_fills_them_in_and_everybody_sees_them(
    client_for: ClientFor, administrator: Person, outsider: Person, organisation: Organisation
) -> None:
    response = client_for(administrator).post(
        "/contacts/edit/", sent(PEOPLE, SAFETY, note="See the red folder.")
    )
    assert response["Location"] == "/contacts/"
    page = client_for(outsider).get("/contacts/")
    for words in ("Odile Marsh", "extension 14, the blue house", "Harbour watch", "See the red folder."):
        assert_sees(page, words)
    assert_not_sees(page, "People team, Safety")
    assert AuditEvent.objects.get(act="contacts changed").facts == {"contacts": 2}


def test_an_emptied_row_is_removed(
    client_for: ClientFor, administrator: Person, organisation: Organisation
) -> None:
    browser = client_for(administrator)
    browser.post("/contacts/edit/", sent(PEOPLE, SAFETY))
    browser.post("/contacts/edit/", sent(PEOPLE, ("", "", ""), version=2))
    assert [contact.name for contact in Contact.objects.all()] == ["Odile Marsh"]


@pytest.mark.parametrize(
    ("contact", "message"),
    [
        (("people", "", "extension 14"), "Enter who it is, or empty the row."),
        (("people", "Odile Marsh", ""), "Enter how to reach them, or empty the row."),
        (("", "Odile Marsh", "extension 14"), "Choose what this contact is for, or empty the row."),
        (("friends", "Odile Marsh", "extension 14"), "“friends” is not offered"),
        (("people", "x" * 121, "extension 14"), "At most 120 characters"),
        (("people", "Odile\u202eMarsh", "extension 14"), "One line of ordinary characters."),
    ],
)
def test_half_a_contact_is_refused_and_kept_on_the_form(
    client_for: ClientFor,
    administrator: Person,
    organisation: Organisation,
    contact: tuple[str, str, str],
    message: str,
) -> None:
    response = client_for(administrator).post(
        "/contacts/edit/", sent(contact, SAFETY, note="See the red folder.")
    )
    assert response.status_code == 422
    page = body_of(response)
    assert message in page
    assert "Harbour watch" in page
    assert "See the red folder." in page
    assert not Contact.objects.exists()


def test_a_stale_form_shows_both_and_overwrites_nothing(
    client_for: ClientFor, administrator: Person, organisation: Organisation
) -> None:
    browser = client_for(administrator)
    browser.post("/contacts/edit/", sent(PEOPLE))
    response = browser.post("/contacts/edit/", sent(SAFETY, version=1))
    assert response.status_code == 412
    page = body_of(response)
    assert "Odile Marsh" in page
    assert "Harbour watch" in page
    assert [contact.name for contact in Contact.objects.all()] == ["Odile Marsh"]
    assert 'name="version" value="2"' in page
    assert browser.post("/contacts/edit/", sent(SAFETY, version=2)).status_code == 302
    assert [contact.name for contact in Contact.objects.all()] == ["Harbour watch"]


def test_the_form_does_not_exist_for_others(
    client_for: ClientFor,
    outsider: Person,
    staff: Person,
    superuser: Person,
    organisation: Organisation,
    client: Client,
) -> None:
    for person in (outsider, staff, superuser):
        browser = client_for(person)
        missing = browser.get("/no/such/page/")
        assert_same_bytes(browser.get("/contacts/edit/"), missing)
        assert_same_bytes(browser.post("/contacts/edit/", sent(PEOPLE)), missing)
    assert client.get("/contacts/edit/")["Location"].startswith("/account/login/")
    assert client.get("/contacts/")["Location"].startswith("/account/login/")
    assert not Contact.objects.exists()


def test_other_methods_are_refused(client_for: ClientFor, administrator: Person) -> None:
    browser = client_for(administrator)
    assert browser.post("/contacts/").status_code == 405
    assert browser.put("/contacts/edit/").status_code == 405


def test_words_of_contacts_are_escaped(
    client_for: ClientFor, administrator: Person, organisation: Organisation
) -> None:
    browser = client_for(administrator)
    browser.post("/contacts/edit/", sent(("people", "<b>Odile</b>", "<script>x</script>"), note="<i>x</i>"))
    page = body_of(browser.get("/contacts/"))
    assert "<b>" not in page
    assert "<i>x" not in page
    assert forbidden(page) == []


def test_the_form_holds_nothing_the_policy_forbids(
    client_for: ClientFor, administrator: Person, organisation: Organisation
) -> None:
    browser = client_for(administrator)
    browser.post("/contacts/edit/", sent(PEOPLE))
    page = body_of(browser.get("/contacts/edit/"))
    assert 'value="Odile Marsh"' in page
    assert forbidden(page) == []


def test_the_page_costs_the_same_with_many_contacts(
    client_for: ClientFor, outsider: Person, organisation: Organisation
) -> None:
    browser = client_for(outsider)
    browser.get("/contacts/")  # the first visit notes the session
    counts = []
    for _ in range(2):
        for number in range(10):
            Contact.objects.create(kind="people", name=f"Name {number}", how="here")
        with queries() as made:
            browser.get("/contacts/")
        counts.append(len(made))
    assert counts[0] == counts[1]
