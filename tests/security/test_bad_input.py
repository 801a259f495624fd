"""What is hostile or broken is refused or made harmless, on every form, and never an error of the server."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

import pytest
from django.core.cache import cache
from django.db import transaction
from django.test import override_settings
from django.utils.http import urlencode

from tests.security import routes
from tests.security.bad_input import ELSEWHERE, HOSTS, LONG, TEXTS, VALUES
from tests.security.browser import Answer, Browser
from tests.security.matrix import Cell, Matrix, undone, unlogged
from tests.security.routes import Route
from tests.security.rows import IN, ROWS, Row
from tests.security.world import PASSWORD

pytestmark = pytest.mark.django_db
ACTS = [row for row in ROWS if "POST" in row.methods]
LOOKS = [row for row in ROWS if "GET" in row.methods]
ALLAUTH = [route for route in routes.of_the_server() if not route.ours]
# Fields of allauth's forms, all sent to all of them.
ACCOUNT_FIELDS = (
    "login", "email", "password", "password1", "password2", "oldpassword", "code", "credential", "name",
    "action_send", "next", "remember",
)  # fmt: skip
RAW_MARKUP = re.compile(r"<script>alert|<img src=x|\" autofocus onfocus=", re.IGNORECASE)


def let_in(matrix: Matrix, row: Row, method: str) -> Cell:
    """The first cell of a row in which somebody is let in."""
    return next(cell for cell in matrix.cells(row, [method]) if cell.verdict == IN)


def usual(matrix: Matrix, row: Row) -> dict[str, Any]:
    return dict(row.send(matrix.world) if callable(row.send) else row.send)


def send(matrix: Matrix, row: Row, data: dict[str, Any], **options: Any) -> Answer:
    """Do an act as somebody who may, and undo it."""
    cell = let_in(matrix, row, "POST")
    with undone(), unlogged():
        return matrix.browsers[cell.actor].ask("POST", matrix.path(row, cell.thing), data, **options)


def faults(answer: Answer, about: str) -> list[str]:
    """An error of the server, markup that came back as markup, or a header that was not ours."""
    found = []
    if answer.status >= 500:
        found.append(f"{about}: {answer.status}")
    if RAW_MARKUP.search(answer.text):
        found.append(f"{about}: markup came back")
    if "bcc" in {name.lower() for name, _value in answer.headers}:
        found.append(f"{about}: a header of the sender's own")
    return found


@pytest.mark.parametrize("row", ACTS, ids=lambda row: row.key)
def test_no_field_takes_what_harms(matrix: Matrix, row: Row, record_property: Any) -> None:
    """Each bad value in one field, the rest as usual, the fields taking turns."""
    fields = [*usual(matrix, row), "next"]
    bad = TEXTS | VALUES
    turns = [(name, fields[turn % len(fields)]) for turn, name in enumerate(bad)]
    wrong = _tried(matrix, row, turns)
    record_property("bad input", len(turns))
    assert wrong == []


@pytest.mark.hostile
@pytest.mark.parametrize("row", ACTS, ids=lambda row: row.key)
def test_no_single_field_takes_anything_that_harms(matrix: Matrix, row: Row, record_property: Any) -> None:
    """Every bad value in every field by itself, and in all of them at once."""
    fields = [*usual(matrix, row), "next"]
    cases = [(name, field) for name in TEXTS | VALUES for field in (*fields, None)]
    record_property("bad input", len(cases))
    assert _tried(matrix, row, cases) == []


def _tried(matrix: Matrix, row: Row, cases: Iterable[tuple[str, str | None]]) -> list[str]:
    data, wrong = usual(matrix, row), []
    for name, field in cases:
        value = _sendable((TEXTS | VALUES)[name])
        bad = dict.fromkeys([*data, "next"], value) if field is None else data | {field: value}
        wrong += faults(send(matrix, row, bad), f"{name} in {field or 'all fields'}")
    return wrong


def _sendable(value: object) -> object:
    """Halves of characters go over the wire as the bytes that they would have."""
    return value.encode("utf-8", "surrogatepass") if isinstance(value, str) else value


@pytest.mark.parametrize("row", ACTS, ids=lambda row: row.key)
def test_no_body_of_another_shape_harms(matrix: Matrix, row: Row) -> None:
    cell, wrong = let_in(matrix, row, "POST"), []
    shapes: dict[str, tuple[bytes, str]] = {
        "nothing": (b"", "application/x-www-form-urlencoded"),
        "binary": (bytes(range(256)) * 8, "application/octet-stream"),
        "JSON": (b'{"title": ["x"]}', "application/json"),
        "a broken form of parts": (
            b"--x\r\nContent-Disposition: form-data",
            "multipart/form-data; boundary=x",
        ),
        "parts without a boundary": (b"title=x", "multipart/form-data"),
        "another charset": (
            "title=Gez\xe4hlt".encode("utf-16"),
            "application/x-www-form-urlencoded; charset=utf-16",
        ),
        "no such charset": (b"title=x", "application/x-www-form-urlencoded; charset=none"),
        "many fields": (b"&".join(b"f%d=1" % n for n in range(1500)), "application/x-www-form-urlencoded"),
        "one field many times": (b"version=1&" * 200, "application/x-www-form-urlencoded"),
        "three megabytes": (b"words=" + b"x" * (3 << 20), "application/x-www-form-urlencoded"),
        "bytes that are no text": (b"words=%ff%fe&title=%c3%28", "application/x-www-form-urlencoded"),
    }
    for name, (body, content_type) in shapes.items():
        with undone(), unlogged():
            path = matrix.path(row, cell.thing)
            answer = matrix.browsers[cell.actor].ask("POST", path, body=body, content_type=content_type)
        wrong += faults(answer, name)
    assert wrong == []


@pytest.mark.parametrize("row", LOOKS, ids=lambda row: row.key)
def test_no_query_harms(matrix: Matrix, row: Row) -> None:
    cell, wrong = let_in(matrix, row, "GET"), []
    for name, value in (TEXTS | VALUES).items():
        if len(value) > 5000:
            value = value[:5000]
        query = dict.fromkeys(
            ("words", "page", "lines", "day", "next", "everyone", "year", "sort", "order", "q"),
            _sendable(value),
        )
        with undone(), unlogged():
            answer = matrix.browsers[cell.actor].ask("GET", matrix.path(row, cell.thing), query)
        wrong += faults(answer, name)
    assert wrong == []


@pytest.mark.parametrize("route", ALLAUTH, ids=lambda route: route.key)
def test_no_form_about_signing_in_takes_what_harms(matrix: Matrix, route: Route) -> None:
    path, wrong = "/" + route.pattern.replace("<int:pk>", "1"), []
    for actor in ("anonymous", "manager", "unverified", "second factor pending"):
        for name, value in (TEXTS | VALUES).items():
            cache.clear()
            with undone(), unlogged():
                data = dict.fromkeys(ACCOUNT_FIELDS, _sendable(value))
                answer = matrix.browsers[actor].ask("POST", path, data)
            wrong += faults(answer, f"{name} as {actor}")
    assert wrong == []


def leads_off(answer: Answer) -> bool:
    """Whether a browser would leave the server.

    Browsers drop tabs and line ends, take a backslash for a slash, and decode nothing: an address without a
    scheme and without two slashes in front stays here (URL Standard of the WHATWG, recalled from memory).
    """
    target = re.sub(r"[\t\r\n]", "", answer.header("Location").strip()).replace("\\", "/")
    elsewhere = re.match(r"//|[a-z][a-z0-9+.-]*:", target, re.IGNORECASE)
    return bool(elsewhere) and not target.startswith("http://localhost/")


@pytest.mark.parametrize("row", ACTS, ids=lambda row: row.key)
def test_no_next_leads_off_the_server(matrix: Matrix, row: Row) -> None:
    """In the form and in the query. ASVS 5.0, 3.7.2."""
    cell, data, wrong = let_in(matrix, row, "POST"), usual(matrix, row), []
    path = matrix.path(row, cell.thing)
    browser = matrix.browsers[cell.actor]
    for turn, target in enumerate(ELSEWHERE):
        answers = [send(matrix, row, data | {"next": target})]
        if turn % 3 == 0:
            with undone(), unlogged():
                answers.append(browser.ask("POST", path, data, QUERY_STRING=_query(target)))
        if "GET" in row.methods:
            with undone(), unlogged():
                answers.append(browser.ask("GET", path, QUERY_STRING=_query(target)))
        for answer in answers:
            wrong += faults(answer, target[:40])
            if leads_off(answer) or re.search(r'href="(?:[^"]*//evil|javascript)', answer.text):
                wrong.append(f"{target[:40]}: {answer.header('Location')[:60]}")
            if "a=b" in answer.header("Set-Cookie"):
                wrong.append(f"{target}: a cookie of the sender's own")
    assert wrong == []


def _query(target: str) -> str:
    return urlencode({"next": target[:3000]})


@pytest.mark.parametrize("path", ["/account/login/", "/account/logout/", "/account/reauthenticate/"])
def test_no_next_of_signing_in_leads_off_the_server(matrix: Matrix, path: str) -> None:
    person, wrong = matrix.world.people["outsider"], []
    for target in ELSEWHERE:
        for actor in ("anonymous", "outsider"):
            cache.clear()
            data = {"login": person.email, "password": PASSWORD, "next": target}
            with undone(), unlogged():
                answers = [
                    matrix.browsers[actor].ask("POST", path, data),
                    matrix.browsers[actor].ask("GET", path, QUERY_STRING=_query(target)),
                ]
            for answer in answers:
                wrong += faults(answer, target[:40])
                if leads_off(answer):
                    wrong.append(f"{target[:40]} as {actor}: {answer.header('Location')[:60]}")
    assert wrong == []


@pytest.mark.parametrize("host", HOSTS, ids=lambda host: host or "empty")
@pytest.mark.parametrize("path", ["/", "/account/login/", "/account/password/reset/", "/privacy/"])
def test_a_host_that_is_not_ours_is_refused(matrix: Matrix, path: str, host: str) -> None:
    with override_settings(ALLOWED_HOSTS=["localhost"]), unlogged():
        for actor in ("anonymous", "manager"):
            for method in ("GET", "POST"):
                with undone():
                    answer = matrix.browsers[actor].ask(
                        method, path, {"email": "ines.okafor@example.org"} if method == "POST" else None,
                        HTTP_HOST=host, HTTP_ORIGIN=f"http://{host}",
                    )  # fmt: skip
                assert answer.status == 400, f"{method} as {actor}"
                assert "evil.example" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"HTTP_X_FORWARDED_HOST": "evil.example"},
        {"HTTP_FORWARDED": "host=evil.example"},
        {"HTTP_X_ORIGINAL_URL": "/people/"},
        {"HTTP_X_REWRITE_URL": "/people/"},
        {"HTTP_X_HTTP_METHOD_OVERRIDE": "DELETE"},
        {"HTTP_X_FORWARDED_USER": "nils.haverkamp@example.org"},
        {"HTTP_REMOTE_USER": "nils.haverkamp@example.org"},
        {"HTTP_X_FORWARDED_PREFIX": "//evil.example"},
        {"HTTP_ACCEPT_LANGUAGE": "../../etc" * 200},
        {"HTTP_REFERER": "javascript:alert(1)"},
        {"HTTP_HX_REQUEST": "true\x00"},
    ],
    ids=lambda headers: next(iter(headers)),
)
def test_no_header_changes_who_or_where_one_is(matrix: Matrix, headers: dict[str, Any]) -> None:
    with unlogged(), undone():
        plain = matrix.browsers["outsider"].ask("GET", "/settings/")
        answer = matrix.browsers["outsider"].ask("GET", "/settings/", **headers)
    assert answer.status == plain.status == 200
    assert "evil.example" not in answer.text
    assert "Nils" not in answer.text


def test_no_header_counts_tries_as_somebody_elses(matrix: Matrix) -> None:
    """ASVS 5.0, 15.3.4: without a proxy in front, a new address in a header is the same visitor."""
    cache.clear()
    with undone(), unlogged():
        answers = [
            matrix.browsers["anonymous"].ask(
                "POST",
                "/account/login/",
                {"login": f"nobody{turn}@example.org", "password": "seven lamps"},
                HTTP_X_FORWARDED_FOR=f"192.0.2.{turn}",
                HTTP_X_REAL_IP=f"192.0.2.{turn}",
                HTTP_FORWARDED=f"for=192.0.2.{turn}",
            )
            for turn in range(32)
        ]
    assert "Too many tries" not in answers[0].text
    assert "Too many tries" in answers[-1].text


COOKIES = ("", "x", "a" * 5000, '"aaaaaaaa\\000"', "aaaaaaaa\x7f", "../../etc/passwd", "aaaaaaaa\xff")


@pytest.mark.parametrize("value", COOKIES, ids=lambda value: ascii(value)[:20])
@pytest.mark.parametrize("name", ["session", "csrf", "language", "messages", "sessionid"])
def test_no_cookie_harms(matrix: Matrix, name: str, value: str) -> None:
    with unlogged():
        for method, path in (("GET", "/"), ("GET", "/account/login/"), ("POST", "/account/login/")):
            with undone():
                answer = Browser({name: value}, checks_csrf=True).ask(method, path)
            assert answer.status < 500


def test_a_fault_would_be_noticed(matrix: Matrix) -> None:
    headers = (("Location", "//evil.example"), ("Bcc", "x"))
    harmed = Answer(500, headers, b"<p><script>alert(1)</script></p>", ())
    assert len(faults(harmed, "all")) == 3
    assert leads_off(harmed)
    for target in ("/\\evil.example", "https:evil.example", "\t//evil.example", "http://localhost.evil/"):
        assert leads_off(Answer(302, (("Location", target),), b"", ()))
    assert not leads_off(Answer(302, (("Location", "/lines/?next=//x"),), b"", ()))
    assert LONG > 4 * 4000
    assert transaction.get_connection().in_atomic_block
