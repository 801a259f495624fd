"""Whoever has a copy of the database, or of a backup, and no key of ours gets in nowhere with what is in it.

Each check has its twins: with a guard off, or the secret put into a row in plain or encoded, the same thief
gets in.
"""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.cache import cache
from django.test import Client, override_settings
from django.urls import reverse
from pytest_django.plugin import DjangoDbBlocker

from accounts.models import Person, Session
from oneonone import clock
from oneonone.models import AuditEvent, Mail
from oneonone.selectors.notices import mail_texts
from oneonone.selectors.private import keys as selected
from oneonone.selectors.private.keys import CannotOpen
from oneonone.services.private import keys, margin
from oneonone.web.signing_in import session_store
from tests.cast import body_of, make_person
from tests.scene import coming_of, make_line
from tests.security import thief
from tests.security.owndatabase import own_database
from tests.security.spellings import ways
from tests.security.thief import TOKEN, Loot
from tests.security.world import NOW
from tests.web.account.doorstep import PASSWORD, sign_in
from tests.web.account.post import code_in

pytestmark = [pytest.mark.django_db, pytest.mark.xdist_group("thief")]
NOTE = "Ask about the winter moorings"
LOGIN_CODE, RESET_CODE = "/account/login/code/", "/account/password/reset/"
HELD_BACK = "wheelhouse-next-spring"
OTHER_KEY = base64.b64encode(b"a key that is of somebody else's").decode()
INTERVAL = {
    "every": "4",
    "unit": "weeks",
    "first_day": "2026-12-10",
    "month_day": "weekday",
    "time": "09:30",
    "minutes": "45",
    "zone": "Europe/London",
    "place": "",
    "call_link": "",
}


@dataclass
class Scene:
    """Whose secrets are in the database, the browsers that rightfully have them, and what was stolen."""

    page: str
    tomas: Person
    at_work: Client
    signing_in: Client
    resetting: Client
    secrets: dict[str, str]
    loot: Loot


@pytest.fixture(scope="module")
def scene(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Scene]:
    folder = tmp_path_factory.mktemp("thief")
    quick = {
        "MAIL_CAN_LEAVE": True,
        "ACCOUNT_LOGIN_BY_CODE_MAX_ATTEMPTS": 10**6,
        "ACCOUNT_PASSWORD_RESET_BY_CODE_MAX_ATTEMPTS": 10**6,
        "ACCOUNT_RATE_LIMITS": False,
    }
    with django_db_blocker.unblock(), override_settings(**quick), own_database(folder):
        clock.hold_at(NOW)
        cache.clear()
        yield _set()


def _set() -> Scene:
    tomas, ines = make_person("Tomas Lindqvist"), make_person("Ines Okafor")
    for person in (tomas, ines):
        person.set_password(PASSWORD)
        person.save()
    meeting = coming_of(make_line(ines, tomas))
    margin.write(
        meeting=meeting, words=NOTE, unclear=False, revision=0, actor=tomas, now=NOW, today=NOW.date()
    )
    page = reverse("meeting", args=[meeting.pk])
    at_work, secrets = signed_in(tomas), {}
    assert NOTE in body_of(at_work.get(page))
    # Kept until he has shown that it is him.
    asked = at_work.post(reverse("session-end"), {"session": HELD_BACK})
    assert asked["Location"].startswith("/account/reauthenticate/")
    secrets["session"], secrets["form held back"] = key_of(at_work), HELD_BACK
    # The thief knows his address, and asks for codes in a browser of their own.
    signing_in, resetting = Client(), Client()
    for client, path, name in ((signing_in, LOGIN_CODE, "login code"), (resetting, RESET_CODE, "reset code")):
        known = set(Mail.objects.values_list("pk", flat=True))
        client.post(path, {"email": tomas.email})
        secrets[name] = code_in(Mail.objects.exclude(pk__in=known).get())
    at_desk = signed_in(ines)
    secrets["invitation mailed"] = _token_of_mailed_invitation(at_desk)
    secrets["invitation to hand over"] = _token_kept_for_the_next_page(at_desk)
    assert len(set(secrets.values())) == 6
    return Scene(page, tomas, at_work, signing_in, resetting, secrets, thief.steal())


def signed_in(person: Person) -> Client:
    client = Client(headers={"User-Agent": "Pier desk"})
    sign_in(client, person.email)
    return client


def key_of(client: Client) -> str:
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def _token_of_mailed_invitation(client: Client) -> str:
    _make_line(client, "noor@example.org")
    link = mail_texts.text_of(Mail.objects.get(to_address="noor@example.org"))
    return link.rstrip("/").rpartition("/")[2]


def _token_kept_for_the_next_page(client: Client) -> str:
    with override_settings(MAIL_CAN_LEAVE=False):
        _make_line(client, "jonas@example.org")
    link: str = client.session["invitation_link"]["link"]
    return link.rstrip("/").rpartition("/")[2]


def _make_line(client: Client, email: str) -> None:
    form = {"client_key": str(uuid4()), "name": "Noor Haldane", "email": email, "side": "report"}
    assert client.post(reverse("line-new"), INTERVAL | form).status_code == 302


def test_no_secret_is_in_the_copy_in_any_spelling(scene: Scene) -> None:
    rows, backup = "\n".join(scene.loot.values).encode(), b"".join(thief.files())
    parts = [rows, backup]
    # Both were read: what is stored of the keys is in them.
    stored = [key_hash.encode() for key_hash in Session.objects.values_list("pk", flat=True)]
    assert all(key_hash in part for part in parts for key_hash in stored)
    for name, secret in scene.secrets.items():
        assert [way for part in parts for way in ways(part, secret)] == [], name


def test_nothing_in_the_copy_opens_a_session(scene: Scene) -> None:
    assert thief.open_sessions(scene.loot.tokens | scene.loot.values) == set()
    whole = {value for value in scene.loot.values if TOKEN.fullmatch(value.encode())}
    assert thief.open_pages(whole, scene.page) == set()
    hashes = set(Session.objects.values_list("pk", flat=True))
    assert hashes <= whole


def test_nothing_in_the_copy_is_a_code(scene: Scene) -> None:
    assert thief.right_codes(scene.loot.codes, scene.signing_in, f"{LOGIN_CODE}confirm/") == set()
    assert thief.right_codes(scene.loot.codes, scene.resetting, f"{RESET_CODE}confirm/") == set()


def test_nothing_in_the_copy_is_an_invitation(scene: Scene) -> None:
    assert thief.open_invitations(scene.loot.tokens) == set()


def test_under_another_key_a_copy_opens_nothing_even_with_the_right_cookie(scene: Scene) -> None:
    """A backup, restored on a server of the thief's own, by whoever has also watched a browser."""
    with override_settings(KEK_TEXT=OTHER_KEY):
        assert thief.open_pages({scene.secrets["session"]}, scene.page) == set()
        with pytest.raises(CannotOpen):
            mail_texts.text_of(Mail.objects.get(to_address="noor@example.org"))


# --- the same thief, where there is something to find
def in_plain(secret: str) -> Any:
    return {"kept": f"before {secret}, after"}


def in_a_row_of_a_cache(secret: str) -> Any:
    """As the framework writes a session: compressed, and in base64."""
    packed = zlib.compress(json.dumps({"stages": {"code": secret}}).encode())
    return {"session": base64.urlsafe_b64encode(packed).decode().rstrip("=") + ":1tX:signed"}


def in_hex(secret: str) -> Any:
    return {"kept": secret.encode().hex()}


def run_together(secret: str) -> Any:
    return {"kept": f"0{secret}1"}


PLANTED: list[tuple[str, Callable[[str], Any]]] = [
    *((name, way) for name in ("session", "login code") for way in (in_plain, in_a_row_of_a_cache, in_hex)),
    ("session", run_together),
    ("reset code", in_plain),
    ("invitation mailed", in_plain),
    ("invitation to hand over", in_a_row_of_a_cache),
]


@pytest.mark.parametrize(("name", "way"), PLANTED, ids=lambda value: getattr(value, "__name__", value))
def test_a_secret_that_stood_in_a_row_would_be_found_and_open(
    scene: Scene, name: str, way: Callable[[str], Any]
) -> None:
    secret = scene.secrets[name]
    AuditEvent.objects.create(at=NOW, act="left about", facts=way(secret))
    loot = thief.from_rows()
    if name == "session":
        assert thief.open_sessions(loot.tokens) == {secret}
        assert thief.open_pages({secret}, scene.page) == {secret}
    elif name.endswith("code"):
        assert secret in loot.codes
    else:
        assert thief.open_invitations(loot.tokens) == {secret}


def test_with_raw_keys_in_the_rows_the_thief_reads_private_notes(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session_store, "hash_of_key", str)
    key = key_of(signed_in(scene.tomas))
    loot = thief.from_rows()
    assert key in thief.open_pages({value for value in loot.values if value == key}, scene.page)


def test_without_the_seal_codes_and_held_back_forms_are_read(
    scene: Scene, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keys, "lock", lambda purpose, text: text)
    monkeypatch.setattr(selected, "unlock", lambda purpose, stored: stored)
    client = Client()
    client.post(LOGIN_CODE, {"email": scene.tomas.email})
    loot = thief.from_rows()
    at_work = signed_in(scene.tomas)
    at_work.post(reverse("session-end"), {"session": "pontoon-next-autumn"})
    assert "pontoon-next-autumn" in "".join(thief.from_rows().values)
    right = thief.right_codes(loot.codes, client, f"{LOGIN_CODE}confirm/")
    assert len(right) == 1
    assert NOTE in body_of(client.get(scene.page))
