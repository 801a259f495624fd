"""Signing in, and what it tells to somebody who does not belong here."""

from __future__ import annotations

import re
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import MD5PasswordHasher
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import AuditEvent
from tests.cast import assert_not_sees, assert_sees, body_of, queries
from tests.web.account.markup import forbidden
from tests.web.account.post import code_in, owed

PASSWORD = "seven lamps on a long quay"
LOGIN = "/account/login/"


@pytest.fixture
def tomas(report: Person) -> Person:
    """Tomas with a password."""
    report.set_password(PASSWORD)
    report.save()
    return report


def sign_in(client: Client, email: str, password: str = PASSWORD) -> Any:
    return client.post(LOGIN, {"login": email, "password": password})


def is_signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_address_and_password_let_in(client: Client, tomas: Person) -> None:
    response = sign_in(client, tomas.email)
    assert (response.status_code, response["Location"]) == (302, "/")
    assert is_signed_in(client)


def test_the_case_of_the_address_does_not_matter(client: Client, tomas: Person) -> None:
    sign_in(client, " Tomas.LINDQVIST@example.org ")
    assert is_signed_in(client)


def test_the_session_gets_a_new_id(client: Client, tomas: Person) -> None:
    client.get(LOGIN)
    session = client.session
    session["kept"] = "x"
    session.save()
    before = session.session_key
    client.cookies["session"] = before or ""
    sign_in(client, tomas.email)
    assert client.session.session_key != before


def test_a_wrong_password_is_refused_at_the_page_and_the_address_stays(client: Client, tomas: Person) -> None:
    response = sign_in(client, tomas.email, "seven lamps on a short quay")
    assert_sees(response, "This address and this password do not belong together.")
    assert_sees(response, "tomas.lindqvist@example.org")
    assert_not_sees(response, "short quay")
    assert not is_signed_in(client)


def without_tokens(page: str) -> str:
    """The page without what differs from one answer to the next by design."""
    return re.sub(r'name="csrfmiddlewaretoken" value="[^"]*"', "", page)


def test_a_wrong_password_and_an_unknown_address_get_the_same_page(client: Client, tomas: Person) -> None:
    known = body_of(sign_in(client, tomas.email, "seven lamps on a short quay"))
    unknown = body_of(sign_in(client, "tomas.lindquist@example.org", "seven lamps on a short quay"))
    assert without_tokens(known.replace("lindqvist", "lindquist")) == without_tokens(unknown)


@pytest.mark.parametrize("path", ["/account/password/reset/", "/account/login/code/"])
def test_asking_for_a_code_tells_nothing_about_an_address(path: str, tomas: Person) -> None:
    answers = []
    for email in (tomas.email, "nobody.at.all1@example.org"):
        browser = Client()
        response = browser.post(path, {"email": email})
        followed = browser.get(response["Location"])
        page = without_tokens(body_of(followed)).replace(email, "ADDRESS")
        answers.append((response.status_code, response["Location"], followed.status_code, page))
    assert answers[0] == answers[1]
    assert [message.to_address for message in owed()] == [tomas.email]


def test_a_stranger_is_never_written_to(client: Client, db: None) -> None:
    client.post("/account/password/reset/", {"email": "stranger@example.org"})
    client.post("/account/login/code/", {"email": "stranger@example.org"})
    assert owed() == []


def test_a_mailed_code_lets_in_once(client: Client, tomas: Person) -> None:
    client.post("/account/login/code/", {"email": tomas.email})
    code = code_in(owed()[0])
    client.post("/account/login/code/confirm/", {"code": code})
    assert is_signed_in(client)
    other = Client()
    other.post("/account/login/code/", {"email": tomas.email})
    other.post("/account/login/code/confirm/", {"code": code})
    assert not is_signed_in(other)


def test_a_code_that_is_guessed_wrong_three_times_is_over(client: Client, tomas: Person) -> None:
    client.post("/account/login/code/", {"email": tomas.email})
    for guess in ("AAAAAA", "BBBBBB", "CCCCCC"):
        client.post("/account/login/code/confirm/", {"code": guess})
    client.post("/account/login/code/confirm/", {"code": code_in(owed()[0])})
    assert not is_signed_in(client)


def test_a_forgotten_password_is_set_anew_by_code(client: Client, tomas: Person) -> None:
    client.post("/account/password/reset/", {"email": tomas.email})
    client.post(reverse("account_confirm_password_reset_code"), {"code": code_in(owed()[0])})
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    client.post(reverse("account_complete_password_reset"), new)
    tomas.refresh_from_db()
    assert tomas.check_password("the ninth lamp is out")
    assert "set anew" in owed()[1].subject


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
    assert_sees(refused, "This is not your password. Enter the one you sign in with now.")
    assert (
        client.post("/account/password/change/", {"oldpassword": PASSWORD, **new})["Location"] == "/settings/"
    )
    assert owed()[0].subject == "Your password was changed"
    assert "ninth" not in owed()[0].body


def test_tries_are_limited_for_an_address_and_the_right_password_waits_too(
    client: Client, tomas: Person
) -> None:
    for _ in range(5):
        sign_in(client, tomas.email, "seven lamps on a short quay")
    response = sign_in(client, tomas.email)
    assert_sees(response, "Too many tries in a short time. Wait five minutes")
    assert not is_signed_in(client)


def test_many_tries_from_one_address_get_a_page_of_ours(client: Client, tomas: Person) -> None:
    for number in range(31):
        response = sign_in(client, f"guess{number}@example.org")
    assert response.status_code == 429
    assert "Too many tries in a short time" in body_of(response)


def test_an_account_switched_off_does_not_let_in(client: Client, deactivated: Person) -> None:
    deactivated.set_password(PASSWORD)
    deactivated.save()
    sign_in(client, deactivated.email)
    assert not is_signed_in(client)


def test_switching_an_account_off_ends_its_sessions(client_for: Any, outsider: Person) -> None:
    client = client_for(outsider)
    assert client.get("/settings/").status_code == 200
    Person.objects.filter(pk=outsider.pk).update(is_active=False)
    assert client.get("/settings/").status_code == 302


def test_somebody_unverified_is_sent_a_code_first(client: Client, unverified: Person) -> None:
    unverified.set_password(PASSWORD)
    unverified.save()
    response = sign_in(client, unverified.email)
    assert not is_signed_in(client)
    assert_sees(client.get(response["Location"]), "Confirm your address")
    client.post("/account/confirm-email/", {"code": code_in(owed()[0])})
    assert is_signed_in(client)
    assert EmailAddress.objects.get(user=unverified).verified


@pytest.mark.parametrize(
    "target", ["//evil.example/", "https://evil.example/", "/\\evil.example/", "javascript:alert(1)"]
)
def test_signing_in_leads_to_no_other_host(client: Client, tomas: Person, target: str) -> None:
    response = client.post(LOGIN, {"login": tomas.email, "password": PASSWORD, "next": target})
    assert response["Location"] == "/"


def test_signing_in_leads_back_to_the_page_one_came_from(client: Client, tomas: Person) -> None:
    response = client.post(
        f"{LOGIN}?next=/settings/", {"login": tomas.email, "password": PASSWORD, "next": "/settings/"}
    )
    assert response["Location"] == "/settings/"


def test_nobody_signs_up_by_themselves(client: Client, db: None) -> None:
    assert_sees(client.get("/account/signup/"), "You join by invitation")
    sent = {"email": "new@example.org", "password1": PASSWORD, "password2": PASSWORD}
    client.post("/account/signup/", sent)
    assert not Person.objects.exists()
    assert not is_signed_in(client)


def test_signing_out_takes_an_act(client: Client, tomas: Person) -> None:
    sign_in(client, tomas.email)
    assert client.get("/account/logout/").status_code == 200
    assert is_signed_in(client)
    client.post("/account/logout/")
    assert not is_signed_in(client)


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


def test_a_forged_host_gets_no_page_and_no_mail(tomas: Person) -> None:
    forged = Client(headers={"Host": "evil.example"}, raise_request_exception=False)
    assert forged.post("/account/login/code/", {"email": tomas.email}).status_code == 400
    assert owed() == []


def test_account_mail_names_the_organisation_and_no_host_of_the_request(
    client: Client, tomas: Person
) -> None:
    client.post("/account/login/code/", {"email": tomas.email})
    message = owed()[0]
    assert "http://localhost:8000" in message.body
    assert "testserver" not in f"{message.subject} {message.body}"
    assert message.subject == "Your code for signing in"


@pytest.mark.parametrize(
    "path",
    [
        "/account/login/",
        "/account/signup/",
        "/account/password/reset/",
        "/account/login/code/",
        "/account/inactive/",
    ],
)
def test_pages_on_the_way_in_hold_nothing_the_policy_forbids(client: Client, db: None, path: str) -> None:
    response = client.get(path)
    assert response.status_code == 200
    assert forbidden(body_of(response)) == []
    policy = response["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "data:" not in policy


def test_without_a_mail_server_the_pages_say_that_no_code_will_come(
    client: Client, db: None, settings: Any
) -> None:
    settings.MAIL_CAN_LEAVE = False
    assert_sees(client.get("/account/login/code/"), "No mail leaves this server")
    settings.MAIL_CAN_LEAVE = True
    assert_not_sees(client.get("/account/login/code/"), "No mail leaves this server")


def test_signing_in_and_refusals_are_noted_without_what_was_typed(client: Client, tomas: Person) -> None:
    sign_in(client, tomas.email, "seven lamps on a short quay")
    sign_in(client, "seven lamps on a long quay", PASSWORD)
    sign_in(client, "nobody@example.org", PASSWORD)
    sign_in(client, tomas.email)
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    client.post("/account/password/change/", {"oldpassword": PASSWORD, **new})
    noted = AuditEvent.objects.order_by("at").values_list("act", "actor", "person")
    assert list(noted) == [
        ("sign-in refused", None, tomas.pk),
        ("sign-in refused", None, None),
        ("signed in", tomas.pk, tomas.pk),
        ("password changed", tomas.pk, tomas.pk),
    ]
    kept = str(list(AuditEvent.objects.values()))
    assert "lamp" not in kept
    assert "nobody" not in kept


def test_a_refusal_costs_the_same_hash_and_writes_for_an_address_that_nobody_has(
    tomas: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The hash is nearly all of the time that signing in takes; leaving it out would tell who is here."""
    encode, hashed = MD5PasswordHasher.encode, []

    def counted(self: MD5PasswordHasher, password: str, salt: str) -> str:
        hashed.append(password)
        return encode(self, password, salt)

    monkeypatch.setattr(MD5PasswordHasher, "encode", counted)
    costs = []
    for email in (tomas.email, "nobody@example.org"):
        hashed.clear()
        with queries() as made:
            sign_in(Client(), email, "seven lamps on a short quay")
        writes = [query["sql"].split()[0] for query in made.captured_queries if "INSERT" in query["sql"]]
        costs.append((len(hashed), writes))
    assert costs[0] == costs[1] == (1, ["INSERT"])
