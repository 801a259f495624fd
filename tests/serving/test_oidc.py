"""Signing in at an OpenID Connect provider: a real provider and a real server, each a process of its own."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
import requests

from tests.serving.running import PATIENCE_SECONDS, Running, clean_environment, command, serve

BEGIN = "/account/oidc/organisation/login/"
PASSWORD = "seven lamps on a long quay"
USERS = (
    {"sub": "s-nora", "email": "nora.vane@example.org", "email_verified": True, "name": "Nora Vane"},
    {"sub": "s-jon", "email": "jon.sedge@example.org", "email_verified": False, "name": "Jon Sedge"},
    {"sub": "s-ines", "email": "ines.okafor@example.org", "email_verified": True, "name": "Ines Okafor"},
    {"sub": "s-tomas", "email": "t.l@elsewhere.example", "email_verified": False, "name": "Tomas"},
)
WORLD = """
import datetime as dt
from accounts.services import people, invitations
from oneonone import clock
now = clock.now()
made = {}
for name in ("Ines Okafor", "Tomas Lindqvist"):
    email = name.lower().replace(" ", ".") + "@example.org"
    made[name] = people.create_person(
        email=email, name=name, now=now, password="%s", address_verified=True
    )
for name in ("Nora Vane", "Jon Sedge"):
    email = name.lower().replace(" ", ".") + "@example.org"
    _, token = invitations.invite(email=email, name=name, invited_by=made["Ines Okafor"], now=now)
    print(name.split()[0].lower(), token)
"""
ERASE = """
from accounts.models import Person
from oneonone import clock
from oneonone.services.upkeep import erasure, erasure_list
pk = Person.objects.get(name="Tomas Lindqvist").pk
assert erasure.apply(entry=erasure_list.Entry(pk, pk, clock.now()), now=clock.now())
"""
COUNT = "from accounts.models import Person; print('people', Person.objects.count())"


def free_port() -> int:
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
    return port


@dataclass
class Provider:
    """The provider's process."""

    port: int = field(default_factory=free_port)
    process: subprocess.Popen[str] | None = None

    @property
    def issuer(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        claims = [word for user in USERS for word in ("--user-claims", json.dumps(user))]
        self.process = subprocess.Popen(
            [sys.executable, "-W", "ignore", "-m", "oidc_provider_mock", "--port", str(self.port), *claims],
            env=clean_environment({}),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        deadline = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < deadline:
            try:
                requests.get(f"{self.issuer}/.well-known/openid-configuration", timeout=5).raise_for_status()
            except requests.RequestException:
                time.sleep(0.1)
            else:
                return
        raise AssertionError("the provider never answered")

    def stop(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait(PATIENCE_SECONDS)
            self.process = None


@dataclass
class House:
    """The server, its provider, and the tokens of two invitations."""

    server: Running
    provider: Provider
    environment: dict[str, str]
    tokens: dict[str, str] = field(default_factory=dict)

    def shell(self, code: str) -> str:
        process = command("shell", "-v", "0", "-c", code, environment=self.environment)
        said, _ = process.communicate(timeout=PATIENCE_SECONDS)
        assert process.returncode == 0, said
        return said

    def people(self) -> int:
        return int(self.shell(COUNT).split("people")[1].split()[0])


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    data: Path = tmp_path_factory.mktemp("oidc")
    provider = Provider()
    provider.start()
    environment = {
        "ONEONONE_DATA": str(data),
        "ONEONONE_OIDC_NAME": "Quay Pass",
        "ONEONONE_OIDC_ISSUER": provider.issuer,
        "ONEONONE_OIDC_CLIENT_ID": "one-on-ones",
        "ONEONONE_OIDC_CLIENT_SECRET": "a secret of the client",
    }
    try:
        with serve("--data", str(data), "--port", "0", environment=environment) as server:
            server.wait_for("Ready after")
            made = House(server, provider, environment)
            said = made.shell(WORLD % PASSWORD)
            made.tokens = dict(re.findall(r"^(nora|jon) (\S+)$", said, re.MULTILINE))
            yield made
    finally:
        provider.stop()


class Visitor:
    """A browser: keeps cookies, and sends forms with the token of the page they stand on."""

    def __init__(self, house: House) -> None:
        self.house = house
        self.session = requests.Session()

    def get(self, path: str) -> requests.Response:
        return self.session.get(self.house.server.address + path, timeout=PATIENCE_SECONDS)

    def post(self, page: str, path: str, *, go_on: bool = False, **form: str) -> requests.Response:
        found = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', self.get(page).text)
        assert found, f"no form on {page}"
        return self.session.post(
            self.house.server.address + path,
            {"csrfmiddlewaretoken": found[1], **form},
            timeout=PATIENCE_SECONDS,
            allow_redirects=go_on,
        )

    def begin(self, page: str = "/account/login/", **form: str) -> requests.Response:
        """Up to the redirect to the provider."""
        return self.post(page, BEGIN, go_on=False, **form)

    def sign_in_at(self, sent: requests.Response, subject: str) -> requests.Response:
        """Say at the provider who one is, and come back."""
        answer = self.session.post(
            sent.headers["Location"], {"sub": subject}, timeout=PATIENCE_SECONDS, allow_redirects=False
        )
        return self.session.get(answer.headers["Location"], timeout=PATIENCE_SECONDS)

    def through(self, subject: str, page: str = "/account/login/", **form: str) -> requests.Response:
        return self.sign_in_at(self.begin(page, **form), subject)

    @property
    def is_in(self) -> bool:
        return urlsplit(self.get("/settings/").url).path == "/settings/"


@pytest.fixture
def visitor(house: House) -> Iterator[Visitor]:
    browser = Visitor(house)
    yield browser
    browser.session.close()


def test_the_request_to_the_provider_is_bound_to_this_browser(visitor: Visitor) -> None:
    """State against forged answers, and the challenge of RFC 7636 against stolen codes."""
    sent = visitor.begin()
    asked = {name: values[0] for name, values in parse_qs(urlsplit(sent.headers["Location"]).query).items()}
    assert asked["response_type"] == "code"
    assert asked["code_challenge_method"] == "S256"
    # RFC 7636 section 4.2: the digest of SHA-256 in base64url without padding has 43 characters.
    assert len(asked["code_challenge"]) == len(
        base64.urlsafe_b64encode(hashlib.sha256().digest()).rstrip(b"=")
    )
    assert len(asked["state"]) >= 16
    assert len(asked["nonce"]) >= 16
    assert urlsplit(asked["redirect_uri"]).path == "/account/oidc/organisation/login/callback/"


def test_an_answer_to_another_request_is_refused(house: House) -> None:
    """A code that was got with another nonce: its ID token says so (OpenID Connect Core 1.0, 3.1.3.7)."""
    visitor = Visitor(house)
    sent = visitor.begin()
    asked = urlsplit(sent.headers["Location"])
    for query in (
        re.sub(r"nonce=[^&]*", "nonce=of-another-request", asked.query),
        re.sub(r"&?nonce=[^&]*", "", asked.query),
    ):
        sent = visitor.begin()
        state = parse_qs(urlsplit(sent.headers["Location"]).query)["state"][0]
        challenge = parse_qs(urlsplit(sent.headers["Location"]).query)["code_challenge"][0]
        query = re.sub(r"state=[^&]*", f"state={state}", query)
        query = re.sub(r"code_challenge=[^&]*", f"code_challenge={challenge}", query)
        sent.headers["Location"] = asked._replace(query=query).geturl()
        answer = visitor.sign_in_at(sent, "s-nora")
        assert "Quay Pass" in answer.text
        assert not visitor.is_in


def test_the_sign_in_page_offers_it_by_name_and_lets_the_form_go_there(
    house: House, visitor: Visitor
) -> None:
    page = visitor.get("/account/login/")
    assert "Quay Pass" in page.text
    assert f"form-action 'self' {house.provider.issuer}" in page.headers["Content-Security-Policy"]


def test_a_link_alone_begins_nothing(visitor: Visitor) -> None:
    """Another site could otherwise sign somebody in as somebody else."""
    answer = visitor.get(BEGIN)
    assert (answer.status_code, urlsplit(answer.url).path) == (200, BEGIN)


def test_somebody_unknown_gets_no_account(house: House, visitor: Visitor) -> None:
    before = house.people()
    answer = visitor.through("s-nobody-knows")
    assert answer.status_code == 403
    assert "No matching account" in answer.text
    assert (visitor.is_in, house.people()) == (False, before)


def test_an_address_that_somebody_has_here_opens_nothing(house: House, visitor: Visitor) -> None:
    """Not even one that the provider vouches for: an account here is a subject there."""
    answer = visitor.through("s-ines")
    assert answer.status_code == 403
    assert not visitor.is_in


def test_an_invitation_is_accepted_with_the_very_address_that_was_invited(house: House) -> None:
    page = f"/invitations/{house.tokens['nora']}/"
    other = Visitor(house)
    refused = other.through("s-jon", page, next=page)
    assert refused.status_code == 403
    assert "does not confirm that this address is yours" in unescape(refused.text)
    visitor = Visitor(house)
    assert "Accept with Quay Pass" in visitor.get(page).text
    before = house.people()
    assert visitor.through("s-nora", page, next=page).status_code == 200
    assert (visitor.is_in, other.is_in, house.people()) == (True, False, before + 1)
    again = Visitor(house)
    again.through("s-nora")
    assert again.is_in
    assert "Nora Vane" in again.get("/settings/").text


def test_an_address_that_the_provider_has_not_verified_accepts_nothing(
    house: House, visitor: Visitor
) -> None:
    page = f"/invitations/{house.tokens['jon']}/"
    assert visitor.through("s-jon", page, next=page).status_code == 403
    assert not visitor.is_in


def test_somebody_signed_in_connects_it_and_then_signs_in_with_it(house: House) -> None:
    visitor = Visitor(house)
    sign_in = {"login": "tomas.lindqvist@example.org", "password": PASSWORD}
    visitor.post("/account/login/", "/account/login/", go_on=True, **sign_in)
    assert visitor.is_in
    visitor.post("/account/reauthenticate/", "/account/reauthenticate/", go_on=True, password=PASSWORD)
    connections = "/account/3rdparty/"
    assert "Connect Quay Pass" in visitor.get(connections).text
    sent = visitor.post(connections, f"{BEGIN}?process=connect", process="connect", next=connections)
    assert "Disconnect" in visitor.sign_in_at(sent, "s-tomas").text
    again = Visitor(house)
    again.through("s-tomas")
    assert "Tomas Lindqvist" in again.get("/settings/").text
    house.shell(ERASE)
    assert not again.is_in
    assert again.through("s-tomas").status_code == 403


def test_an_answer_that_nobody_asked_for_is_refused(visitor: Visitor) -> None:
    for query in ("code=x", "code=x&state=forged", "error=access_denied&state=forged", ""):
        answer = visitor.get(f"/account/oidc/organisation/login/callback/?{query}")
        assert answer.status_code < 500, query
        assert not visitor.is_in


def test_another_provider_is_missing(visitor: Visitor) -> None:
    assert visitor.get("/account/oidc/other/login/").status_code == 404


def test_a_provider_that_is_away_is_a_page_and_everything_else_goes_on(house: House) -> None:
    under_way = Visitor(house)
    sent = under_way.begin()
    answer = under_way.session.post(
        sent.headers["Location"], {"sub": "s-nora"}, timeout=PATIENCE_SECONDS, allow_redirects=False
    )
    house.provider.stop()
    try:
        back = under_way.session.get(answer.headers["Location"], timeout=PATIENCE_SECONDS)
        for away in (back, Visitor(house).begin()):
            assert away.status_code == 503
            assert "Quay Pass does not respond" in away.text
        assert Visitor(house).get("/account/login/").status_code == 200
        assert "Traceback" not in house.server.said
    finally:
        house.provider.start()
