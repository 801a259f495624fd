"""What the log says about hostile and refused requests: one line each, and what was refused is in it."""

from __future__ import annotations

import logging
from typing import Any
from urllib.parse import quote

import pytest
from django.conf import settings

from tests.security.matrix import Matrix, undone

pytestmark = pytest.mark.django_db
FORGED = "2026-12-03 11:00:00,000 ERROR oneonone: forged"


def lines(records: list[logging.LogRecord]) -> list[str]:
    """The records as the server writes them."""
    said: dict[str, Any] = settings.LOGGING["formatters"]["line"]  # type: ignore[index]
    formatter = logging.Formatter(said["format"], style=said["style"])
    return [formatter.format(record) for record in records]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r", "\x0b", "\x85", "\u2028", "\x1b[2K"], ids=ascii)
def test_no_request_begins_a_line_of_its_own(
    matrix: Matrix, caplog: pytest.LogCaptureFixture, end: str
) -> None:
    """ASVS 5.0, 16.4.1: in the path, in a form, and in a header."""
    hidden = f"/lines/{quote(end + FORGED)}/"
    with (
        caplog.at_level(logging.DEBUG, "django.request"),
        caplog.at_level(logging.INFO, "oneonone"),
        undone(),
    ):
        for actor in ("anonymous", "manager"):
            browser = matrix.browsers[actor]
            assert browser.ask("GET", hidden).status == 404
            browser.ask("POST", "/account/login/", {"login": end + FORGED, "password": "x"})
            browser.ask("GET", "/no/such/page/", HTTP_USER_AGENT=end + FORGED, HTTP_REFERER=end + FORGED)
    written = [line for line in lines(caplog.records) if "forged" in line]
    assert written
    assert [line for line in written if len(line.splitlines()) > 1 or "\x1b" in line] == []


def test_refused_requests_are_noted_with_what_was_asked(
    matrix: Matrix, caplog: pytest.LogCaptureFixture
) -> None:
    """ASVS 5.0, 16.3.2: what is hidden, what is not theirs, a wrong method and a form without its token."""
    things = {thing.place: thing.pk for thing in matrix.world.things["topic"]}
    theirs, not_theirs = things["unrelated, of the manager"], things["own, of the report"]
    asked = {
        "GET": (f"/topics/{theirs}/edit/", 404),
        "POST": (f"/topics/{not_theirs}/edit/", 403),
        "PUT": ("/settings/", 405),
    }
    with caplog.at_level(logging.WARNING), undone():
        for method, (path, status) in asked.items():
            assert matrix.browsers["manager"].ask(method, path).status == status
            (record,) = [record for record in caplog.records if path in record.getMessage()]
            assert (record.levelname, record.name) == ("WARNING", "django.request")
