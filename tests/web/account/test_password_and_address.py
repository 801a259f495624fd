"""The password and the address that one signs in with: changed after asking again, and told by mail."""

from __future__ import annotations

from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.selectors.notices import mail_texts
from tests.cast import assert_sees
from tests.web.account.doorstep import PASSWORD, is_signed_in, sign_in
from tests.web.account.post import code_in, owed


def test_a_forgotten_password_is_set_anew_by_code(client: Client, tomas: Person) -> None:
    client.post("/account/password/reset/", {"email": tomas.email})
    client.post(reverse("account_confirm_password_reset_code"), {"code": code_in(owed()[0])})
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    client.post(reverse("account_complete_password_reset"), new)
    tomas.refresh_from_db()
    assert tomas.check_password("the ninth lamp is out")
    assert "A new password was set" in owed()[1].subject


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("fourteen chars", "at least 15 characters"),
        ("tomas.lindqvist@example.org", "too similar"),
        ("1qaz2wsx3edc4rfv", "too common"),
    ],
)
def test_a_weak_new_password_is_refused_with_the_reason(
    client_for: Any, tomas: Person, password: str, why: str
) -> None:
    client = Client()
    sign_in(client, tomas.email)
    sent = {"oldpassword": PASSWORD, "password1": password, "password2": password}
    response = client.post("/account/password/change/", sent)
    assert_sees(response, why)
    tomas.refresh_from_db()
    assert tomas.check_password(PASSWORD)


@pytest.mark.parametrize(
    "password",
    [
        "fifteen letters",
        "élan à la barre",
        "日本語のとても長い合言葉です。",
        "a ferry, a quay and a lamp; " * 4 + "then home",
    ],
)
def test_long_passwords_of_any_kind_of_character_are_taken(tomas: Person, password: str) -> None:
    client = Client()
    sign_in(client, tomas.email)
    sent = {"oldpassword": PASSWORD, "password1": password, "password2": password}
    assert client.post("/account/password/change/", sent).status_code == 302
    tomas.refresh_from_db()
    assert tomas.check_password(password)


def test_changing_the_password_asks_for_the_old_one_and_tells_by_mail(client: Client, tomas: Person) -> None:
    sign_in(client, tomas.email)
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    refused = client.post("/account/password/change/", {"oldpassword": "not this", **new})
    assert_sees(refused, "This password is wrong. Enter the one you sign in with now.")
    assert (
        client.post("/account/password/change/", {"oldpassword": PASSWORD, **new})["Location"] == "/settings/"
    )
    assert owed()[0].subject == "Your password was changed"
    assert "ninth" not in mail_texts.text_of(owed()[0])


def test_a_new_address_counts_once_its_code_was_entered(client: Client, tomas: Person) -> None:
    sign_in(client, tomas.email)
    asked = client.post("/account/email/", {"action_add": "", "email": "tomas@quay.example"})
    assert asked["Location"].startswith("/account/reauthenticate/")
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    client.post("/account/email/", {"action_add": "", "email": "tomas@quay.example"})
    tomas.refresh_from_db()
    assert tomas.email == "tomas.lindqvist@example.org"
    code = next(code_in(message) for message in owed() if message.to_address == "tomas@quay.example")
    client.post("/account/confirm-email/", {"code": code})
    tomas.refresh_from_db()
    assert tomas.email == "tomas@quay.example"
    assert list(EmailAddress.objects.filter(user=tomas).values_list("email", "primary")) == [
        ("tomas@quay.example", True)
    ]
    told = [message for message in owed() if message.to_address == "tomas.lindqvist@example.org"]
    assert "The address that you sign in with was changed." in mail_texts.text_of(told[-1])
    fresh = Client()
    sign_in(fresh, "tomas.lindqvist@example.org")
    assert not is_signed_in(fresh)
    sign_in(fresh, "tomas@quay.example")
    assert is_signed_in(fresh)


def test_a_guessed_code_changes_no_address(client: Client, tomas: Person) -> None:
    sign_in(client, tomas.email)
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    client.post("/account/email/", {"action_add": "", "email": "tomas@quay.example"})
    code = next(code_in(message) for message in owed() if message.to_address == "tomas@quay.example")
    for guess in ("AAAAAA", "BBBBBB", "CCCCCC"):
        client.post("/account/confirm-email/", {"code": guess})
    client.post("/account/confirm-email/", {"code": code})
    tomas.refresh_from_db()
    assert tomas.email == "tomas.lindqvist@example.org"


def test_an_address_in_use_is_not_told_apart_when_it_is_asked_for(
    client: Client, tomas: Person, outsider: Person
) -> None:
    sign_in(client, tomas.email)
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    taken = client.post("/account/email/", {"action_add": "", "email": outsider.email})
    fresh_browser = Client()
    sign_in(fresh_browser, tomas.email)
    fresh_browser.post("/account/reauthenticate/", {"password": PASSWORD})
    fresh = fresh_browser.post("/account/email/", {"action_add": "", "email": "free@quay.example"})
    assert (taken.status_code, taken.get("Location")) == (fresh.status_code, fresh.get("Location"))
