"""Signing in, and what it tells to somebody who does not belong here."""

from __future__ import annotations

import re
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from django.contrib.auth.hashers import MD5PasswordHasher, ScryptPasswordHasher
from django.test import Client

from accounts.models import Person, Session
from accounts.models.session import hash_of_key
from oneonone import settings as product_settings
from oneonone.models import AuditEvent
from oneonone.selectors.notices import mail_texts
from tests.cast import assert_not_sees, assert_sees, body_of, queries
from tests.web.account.doorstep import LOGIN, PASSWORD, is_signed_in, sign_in
from tests.web.account.markup import forbidden
from tests.web.account.post import code_in, owed


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
    assert_sees(response, "The address or the password is wrong.")
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


def test_a_mailed_code_is_over_after_ten_minutes(client: Client, tomas: Person) -> None:
    """The longest that ASVS 5.0 allows (6.5.5)."""
    for minutes, lets_in in ((9, True), (11, False)):
        browser = Client()
        browser.post("/account/login/code/", {"email": tomas.email})
        state = browser.session
        state["account_login"]["state"]["stages"]["login_by_code"]["data"]["at"] -= minutes * 60
        state.save()
        browser.post("/account/login/code/confirm/", {"code": code_in(owed()[-1])})
        assert is_signed_in(browser) is lets_in


def test_a_session_that_nobody_used_over_a_long_weekend_is_over(client: Client, tomas: Person) -> None:
    sign_in(client, tomas.email)
    for hours, goes_on in ((64, True), (71, True), (73, False)):
        session = client.session
        session["seen_at"] -= hours * 3600
        session.save()
        answer = client.get("/settings/")
        assert (answer.status_code == 200) is goes_on, f"{hours} hours"
    assert not is_signed_in(client)
    assert not Session.objects.filter(pk=hash_of_key(session.session_key or "")).exists()


def test_a_session_is_over_two_weeks_after_signing_in_however_much_it_is_used(
    client: Client, tomas: Person
) -> None:
    sign_in(client, tomas.email)
    for days, goes_on in ((13, True), (2, False)):
        session = client.session
        session["signed_in_at"] -= days * 24 * 3600
        session["seen_at"] -= 2 * 3600
        session.save()
        assert (client.get("/settings/").status_code == 200) is goes_on
    assert not is_signed_in(client)


def test_every_way_in_begins_the_time_of_a_session(client: Client, tomas: Person) -> None:
    client.post("/account/login/code/", {"email": tomas.email})
    client.post("/account/login/code/confirm/", {"code": code_in(owed()[0])})
    assert {"signed_in_at", "seen_at"} <= set(client.session.keys())


def test_passwords_are_stretched_as_is_advised_today() -> None:
    """OWASP's Password Storage Cheat Sheet lists N=2**14, r=8, p=5 among equals; recalled from memory."""
    hasher = ScryptPasswordHasher()
    assert product_settings.PASSWORD_HASHERS[0].endswith(".ScryptPasswordHasher")
    assert (hasher.work_factor, hasher.block_size, hasher.parallelism) >= (2**14, 8, 5)


def test_a_code_that_is_guessed_wrong_three_times_is_over(client: Client, tomas: Person) -> None:
    client.post("/account/login/code/", {"email": tomas.email})
    for guess in ("AAAAAA", "BBBBBB", "CCCCCC"):
        client.post("/account/login/code/confirm/", {"code": guess})
    client.post("/account/login/code/confirm/", {"code": code_in(owed()[0])})
    assert not is_signed_in(client)


def test_refused_tries_from_one_place_are_limited_whatever_the_address(client: Client, tomas: Person) -> None:
    for number in range(30):
        assert_not_sees(sign_in(client, f"guess{number}@example.org"), "Too many tries")
    assert_sees(sign_in(client, "guess30@example.org"), "Too many tries in a short time")
    sign_in(client, tomas.email)
    assert not is_signed_in(client)


def test_neither_looking_nor_signing_in_counts_as_a_try(client: Client, tomas: Person) -> None:
    """A whole office may come from one address in the morning."""
    for _ in range(40):
        assert client.get(LOGIN).status_code == client.head(LOGIN).status_code == 200
    for _ in range(40):
        browser = Client()
        sign_in(browser, tomas.email)
        assert is_signed_in(browser)


def test_too_many_requests_get_a_page_of_ours(client: Client, tomas: Person) -> None:
    for number in range(21):
        response = client.post("/account/password/reset/", {"email": f"guess{number}@example.org"})
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
    signed_out = client.post("/account/logout/")
    assert not is_signed_in(client)
    assert signed_out["Clear-Site-Data"] == '"cache", "storage"'
    assert "Clear-Site-Data" not in client.get("/account/login/")


def test_a_forged_host_gets_no_page_and_no_mail(tomas: Person) -> None:
    forged = Client(headers={"Host": "evil.example"}, raise_request_exception=False)
    assert forged.post("/account/login/code/", {"email": tomas.email}).status_code == 400
    assert owed() == []


def test_account_mail_names_the_organisation_and_no_host_of_the_request(
    client: Client, tomas: Person
) -> None:
    client.post("/account/login/code/", {"email": tomas.email})
    message = owed()[0]
    text = mail_texts.text_of(message)
    assert "http://localhost:8000" in text
    assert "testserver" not in f"{message.subject} {text}"
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
    assert_sees(client.get("/account/login/code/"), "This server sends no mail")
    settings.MAIL_CAN_LEAVE = True
    assert_not_sees(client.get("/account/login/code/"), "This server sends no mail")


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
