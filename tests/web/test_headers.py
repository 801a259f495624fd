"""What browsers are told with every answer, of every address that the server has."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from uuid import UUID

import pytest
from django.http import HttpResponseBase
from django.test import Client

from accounts.models import Person
from tests.architecture.tree import PROJECT
from tests.cast import ClientFor
from tests.security.routes import Route, of_the_server

NOBODYS = UUID("0a1b2c3d-0000-4000-8000-000000000001")
# ASVS 5.0, 3.4.3 to 3.4.6, and what keeps other windows out.
TOLD = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
}
POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self'",
    "font-src": "'self'",
    "connect-src": "'self'",
    "manifest-src": "'self'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
    "base-uri": "'none'",
}
HTTPS = """
import json, logging, django
logging.disable(logging.CRITICAL)
django.setup()
from django.conf import settings
from django.core.checks import run_checks
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
call_command("createcachetable", verbosity=0)
from oneonone.serving import staticfiles
staticfiles.collect()
from accounts.services import people
from oneonone import clock
people.create_person(
    email="ada@example.org", name="Ada Brook", now=clock.now(), password="%(password)s", address_verified=True
)
browser = Client(headers={"Host": "one.example.org"})
plain = browser.get("/account/login/")
page = browser.get("/account/login/", secure=True)
signed_in = browser.post(
    "/account/login/", {"login": "ada@example.org", "password": "%(password)s"}, secure=True
)
first = browser.get("/", secure=True)
print(json.dumps({
    "plain": [plain.status_code, plain["Location"]],
    "page": dict(page.items()),
    "first": [first.status_code, dict(first.items())],
    "cookies": {name: dict(morsel.items()) for name, morsel in browser.cookies.items()},
    "faults": [str(fault) for fault in run_checks(include_deployment_checks=True) if not fault.is_silenced()],
}, default=str))
"""


def address_of(route: Route) -> str:
    path = "/" + route.pattern
    for name in route.kwargs:
        for kind in ("uuid:", "str:", "int:", "slug:", ""):
            value = "1" if kind == "int:" else "nothing" if kind in ("str:", "slug:") else str(NOBODYS)
            path = path.replace(f"<{kind}{name}>", value)
    return path


def told(answer: HttpResponseBase) -> dict[str, str]:
    directives = answer["Content-Security-Policy"].split("; ")
    assert dict(directive.split(" ", 1) for directive in directives) == POLICY
    return {name: answer[name] for name in TOLD}


@pytest.mark.parametrize("route", of_the_server(), ids=lambda route: route.key.replace(" ", "-"))
def test_every_answer_of_every_address_carries_them(
    route: Route, client: Client, client_for: ClientFor, administrator: Person
) -> None:
    here = client_for(administrator)
    for browser in (client, here):
        for method in ("GET", "OPTIONS", "POST"):
            answer = browser.generic(method, address_of(route))
            assert told(answer) == TOLD, f"{method}: {answer.status_code}"
            if browser is here or route.ours:
                assert "no-store" in answer["Cache-Control"], f"{method}: {answer.status_code}"


@pytest.mark.parametrize("path", ["/no/such/page/", "/static/no-such-file.css", "/lines/17/"])
def test_so_do_answers_that_no_page_gave(client_for: ClientFor, administrator: Person, path: str) -> None:
    answer = client_for(administrator).get(path)
    assert told(answer) == TOLD
    assert "no-store" in answer["Cache-Control"]


def test_so_does_a_refused_host_and_a_form_without_its_token() -> None:
    assert told(Client(headers={"Host": "evil.example"}, raise_request_exception=False).get("/")) == TOLD
    assert told(Client(enforce_csrf_checks=True).post("/account/login/", {})) == TOLD


def test_over_tls_cookies_and_the_browser_are_bound_to_it(tmp_path: Path) -> None:
    """ASVS 5.0, 3.3.1 to 3.3.4 and 3.4.1: a server of its own, as an organisation runs it."""
    password = "eleven gulls on a wet roof"
    kept = {name: value for name, value in os.environ.items() if name in ("PATH", "HOME", "LANG")}
    environment = kept | {
        "DJANGO_SETTINGS_MODULE": "oneonone.settings",
        "PYTHONPATH": str(PROJECT),
        "ONEONONE_DATA": str(tmp_path),
        "ONEONONE_BASE_URL": "https://one.example.org",
        "ONEONONE_PROXY_COUNT": "1",
        "ONEONONE_SECRET_KEY": "k5" + "xq9w7vbn2m" * 6,
        "ONEONONE_KEK": "dGhpcnR5LXR3byBieXRlcyBmb3IgdGhlIHRlc3RzISE=",
    }
    ran = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", HTTPS % {"password": password}],
        env=environment,
        cwd=PROJECT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    said = json.loads(ran.stdout.strip().splitlines()[-1])
    assert said["plain"] == [301, "https://one.example.org/account/login/"]
    assert said["first"][0] == 200
    for headers in (said["page"], said["first"][1]):
        assert headers["Strict-Transport-Security"] == "max-age=31536000"
        assert "unsafe" not in headers["Content-Security-Policy"]
    assert set(said["cookies"]) >= {"__Host-session", "__Host-csrf"}
    for name, cookie in said["cookies"].items():
        if name.startswith("__Host-"):
            # RFC 6265bis, 4.1.3.2: the prefix asks for Secure, this path and no domain.
            assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")
        assert (cookie["httponly"], cookie["secure"]) == (True, True), name
        assert cookie["samesite"] == "Lax"
    assert said["faults"] == []
