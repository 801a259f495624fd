"""Second factors: set up, asked for, used once, taken off; and one's sessions."""

from __future__ import annotations

import base64
import hashlib
import hmac
import re
import struct
from types import SimpleNamespace
from typing import Any

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal import auth as allauth_totp
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.sealed import CannotOpen
from oneonone.selectors.notices import mail_texts
from tests.cast import assert_sees, body_of
from tests.web.account.doorstep import PASSWORD, is_signed_in
from tests.web.account.markup import forbidden
from tests.web.account.post import code_in, owed


def totp(secret: str, at: float) -> str:
    """The code of RFC 6238 with the defaults that authenticator apps use: SHA-1, 30 seconds, six digits."""
    counter = struct.pack(">Q", int(at) // 30)
    digest = hmac.new(base64.b32decode(secret), counter, hashlib.sha1).digest()
    offset = digest[-1] & 0x0F
    value = struct.unpack(">I", digest[offset : offset + 4])[0] & 0x7FFFFFFF
    return f"{value % 1_000_000:06d}"


def test_the_reference_vectors_of_rfc_6238_hold_for_the_oracle() -> None:
    """RFC 6238, appendix B, SHA-1 rows, last six of the eight digits there."""
    secret = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"  # "12345678901234567890"
    assert [totp(secret, at) for at in (59, 1111111109, 1111111111, 1234567890)] == [
        "287082",
        "081804",
        "050471",
        "005924",
    ]


@pytest.fixture
def step(monkeypatch: pytest.MonkeyPatch) -> SimpleNamespace:
    """The instant by which allauth judges codes, in seconds; it stands still until a test moves it on."""
    held = SimpleNamespace(at=1_795_600_000.0)
    monkeypatch.setattr(allauth_totp, "time", SimpleNamespace(time=lambda: held.at))
    return held


@pytest.fixture
def browser(tomas: Person, step: SimpleNamespace) -> Client:
    """A browser in which Tomas has signed in and has just shown once more that it is he."""
    client = sign_in(tomas)
    client.post("/account/reauthenticate/", {"password": PASSWORD})
    return client


def sign_in(tomas: Person) -> Client:
    client = Client()
    client.post("/account/login/", {"login": tomas.email, "password": PASSWORD})
    return client


def set_up(browser: Client, step: SimpleNamespace) -> str:
    """Set the app up, let its first code pass by, and return its key."""
    page = body_of(browser.get("/account/2fa/totp/activate/"))
    found = re.search(r'<code class="totp-key">([A-Z2-7]+)</code>', page)
    assert found, "the key is not on the page"
    sent = browser.post("/account/2fa/totp/activate/", {"code": totp(found[1], step.at)})
    assert sent.status_code == 302, body_of(sent)
    step.at += 30
    return found[1]


def recovery_codes(browser: Client) -> list[str]:
    return re.findall(
        r"<li>\s*<code>(\w+)</code>\s*</li>", body_of(browser.get("/account/2fa/recovery-codes/"))
    )


def test_the_key_is_drawn_in_the_page_and_written_out(browser: Client) -> None:
    page = body_of(browser.get("/account/2fa/totp/activate/"))
    assert re.search(r'<svg class="qr-picture" role="img" aria-label="[^"]+" viewBox="0 0 \d+ \d+"', page)
    assert re.search(r'<path d="M[^"]{500,}" fill="currentColor"/>', page)
    assert forbidden(page) == []


def test_a_wrong_first_code_sets_nothing_up(browser: Client, tomas: Person) -> None:
    browser.get("/account/2fa/totp/activate/")
    response = browser.post("/account/2fa/totp/activate/", {"code": "0000000"})
    assert_sees(response, "This code is wrong.")
    assert not Authenticator.objects.filter(user=tomas).exists()


def test_the_password_alone_no_longer_lets_in(browser: Client, tomas: Person, step: SimpleNamespace) -> None:
    key = set_up(browser, step)
    other = sign_in(tomas)
    assert not is_signed_in(other)
    assert_sees(other.get("/account/2fa/authenticate/"), "Your second factor")
    assert other.get("/settings/").status_code == 302
    other.post("/account/2fa/authenticate/", {"code": totp(key, step.at)})
    assert is_signed_in(other)


def test_a_new_second_factor_is_told_by_mail(
    browser: Client, step: SimpleNamespace, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        key = set_up(browser, step)
    subjects = [message.subject for message in owed()]
    assert subjects == ["Authenticator app added"]
    assert not any(key in mail_texts.text_of(message) for message in owed())


def test_what_is_stored_shows_neither_the_key_nor_a_code(
    browser: Client, tomas: Person, step: SimpleNamespace, settings: Any
) -> None:
    key = set_up(browser, step)
    codes = recovery_codes(browser)
    stored = str(list(Authenticator.objects.filter(user=tomas).values()))
    assert not any(secret in stored for secret in (key, *codes))
    settings.KEK_TEXT = base64.b64encode(b"another thirty-two byte test key").decode()
    with pytest.raises(CannotOpen, match="key"):
        sign_in(tomas).post("/account/2fa/authenticate/", {"code": totp(key, step.at)})


def test_a_code_of_the_app_lets_in_once(browser: Client, tomas: Person, step: SimpleNamespace) -> None:
    key = set_up(browser, step)
    code = totp(key, step.at)
    first, second = sign_in(tomas), sign_in(tomas)
    first.post("/account/2fa/authenticate/", {"code": code})
    second.post("/account/2fa/authenticate/", {"code": code})
    assert (is_signed_in(first), is_signed_in(second)) == (True, False)


def test_a_recovery_code_lets_in_once(browser: Client, tomas: Person, step: SimpleNamespace) -> None:
    set_up(browser, step)
    codes = recovery_codes(browser)
    assert len(set(codes)) == 10
    first, second = sign_in(tomas), sign_in(tomas)
    first.post("/account/2fa/authenticate/", {"code": codes[0]})
    second.post("/account/2fa/authenticate/", {"code": codes[0]})
    assert (is_signed_in(first), is_signed_in(second)) == (True, False)
    assert len(recovery_codes(browser)) == 9


def test_a_mailed_code_does_not_get_around_the_second_factor(
    browser: Client, tomas: Person, step: SimpleNamespace
) -> None:
    set_up(browser, step)
    other = Client()
    other.post("/account/login/code/", {"email": tomas.email})
    other.post("/account/login/code/confirm/", {"code": code_in(owed()[-1])})
    assert not is_signed_in(other)
    assert_sees(other.get("/account/2fa/authenticate/"), "Your second factor")


def test_a_new_password_does_not_get_around_the_second_factor(
    browser: Client, tomas: Person, step: SimpleNamespace
) -> None:
    set_up(browser, step)
    other = Client()
    other.post("/account/password/reset/", {"email": tomas.email})
    other.post(reverse("account_confirm_password_reset_code"), {"code": code_in(owed()[-1])})
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    other.post(reverse("account_complete_password_reset"), new)
    tomas.refresh_from_db()
    assert tomas.check_password("the ninth lamp is out")
    assert not is_signed_in(other)


def test_taking_the_app_off_asks_again_who_is_there(
    tomas: Person, browser: Client, step: SimpleNamespace
) -> None:
    key = set_up(browser, step)
    session = browser.session
    for record in session["account_authentication_methods"]:
        record["at"] -= 3600  # ago
    session.save()
    asked = browser.post("/account/2fa/totp/deactivate/")
    assert asked["Location"].startswith("/account/reauthenticate/")
    assert Authenticator.objects.filter(user=tomas, type="totp").exists()
    assert_sees(browser.get(asked["Location"]), "Confirm that it is you")
    browser.post("/account/2fa/reauthenticate/", {"code": totp(key, step.at)})
    browser.post("/account/2fa/totp/deactivate/")
    assert not Authenticator.objects.filter(user=tomas, type="totp").exists()


def test_new_recovery_codes_end_the_old_ones(browser: Client, tomas: Person, step: SimpleNamespace) -> None:
    set_up(browser, step)
    old = recovery_codes(browser)
    browser.post("/account/2fa/recovery-codes/generate/")
    assert not set(old) & set(recovery_codes(browser))
    other = sign_in(tomas)
    other.post("/account/2fa/authenticate/", {"code": old[0]})
    assert not is_signed_in(other)


PAGES = [
    "/account/2fa/",
    "/account/2fa/totp/activate/",
    "/account/2fa/webauthn/",
    "/account/2fa/webauthn/add/",
    "/account/password/change/",
    "/account/email/",
    "/account/sessions/",
    "/account/logout/",
    "/account/reauthenticate/",
]


@pytest.mark.parametrize("path", PAGES)
def test_pages_about_the_account_hold_nothing_the_policy_forbids(browser: Client, path: str) -> None:
    response = browser.get(path)
    assert response.status_code == 200
    page = body_of(response)
    assert forbidden(page) == []
    assert len(re.findall("<h1", page)) == 1
    assert 'aria-current="true"' in page  # Settings is marked as the place it belongs to
    assert "no-store" in response["Cache-Control"]


@pytest.mark.parametrize("path", ["/account/2fa/totp/deactivate/", "/account/2fa/recovery-codes/generate/"])
def test_pages_of_a_second_factor_in_use_hold_nothing_the_policy_forbids(
    browser: Client, step: SimpleNamespace, path: str
) -> None:
    set_up(browser, step)
    response = browser.get(path)
    assert response.status_code == 200
    assert forbidden(body_of(response)) == []


@pytest.mark.parametrize("path", PAGES)
def test_nobody_else_sees_pages_about_the_account(client: Client, db: None, path: str) -> None:
    response = client.get(path)
    assert response.status_code == 302
    assert response["Location"].startswith(("/account/login/", "/"))
    assert "Settings" not in body_of(response)


def test_other_sessions_are_seen_and_ended(tomas: Person, browser: Client) -> None:
    other = sign_in(tomas)
    assert other.get("/settings/").status_code == 200
    assert_sees(browser.get("/account/sessions/"), "End all the others")
    browser.post("/account/reauthenticate/", {"password": PASSWORD})
    browser.post("/account/sessions/end/", {"session": "others"})
    assert other.get("/settings/").status_code == 302
    assert browser.get("/settings/").status_code == 200


def test_a_changed_password_ends_sessions_elsewhere(tomas: Person, browser: Client) -> None:
    other = sign_in(tomas)
    new = {"password1": "the ninth lamp is out", "password2": "the ninth lamp is out"}
    browser.post("/account/password/change/", {"oldpassword": PASSWORD, **new})
    assert other.get("/settings/").status_code == 302
    assert browser.get("/settings/").status_code == 200
