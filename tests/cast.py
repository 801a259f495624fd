"""The named cast of the ferry company, what each of them may see, and how tests sign in and look at pages.

People come without lines. The lines between them, and meetings in every state, are in ``tests/scene.py``.
The present is Wednesday 25 November 2026, 10:00 UTC.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from django.db import connection
from django.http import HttpResponseBase, StreamingHttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape

from accounts.models import Person
from accounts.services import people
from oneonone import clock

NOW = dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC)
JOINED = dt.datetime(2026, 9, 1, 8, 0, tzinfo=dt.UTC)


def make_person(name: str, *, administrator: bool = False, verified: bool = True) -> Person:
    """An account in London, without a password, under an address of the reserved domain example.org."""
    return people.create_person(
        email=f"{name.lower().replace(' ', '.')}@example.org",
        name=name,
        now=JOINED,
        is_administrator=administrator,
        address_verified=verified,
    )


@pytest.fixture
def now() -> dt.datetime:
    """Wednesday 25 November 2026, 10:00 UTC."""
    return NOW


@pytest.fixture
def today(now: dt.datetime) -> dt.date:
    """The day of ``now`` in London."""
    return now.date()


@pytest.fixture
def manager(db: None) -> Person:
    """Ines Okafor. Sees all that is shared on her lines with Tomas and with Maja, and on hers with Ruth; her
    own margin and logbook; the dates of whoever is below her. Never Tomas's or Maja's margin or logbook.
    """
    return make_person("Ines Okafor")


@pytest.fixture
def report(db: None) -> Person:
    """Tomas Lindqvist, who reports to Ines. Sees what is shared on that line, his own margin and logbook, and
    the closed records of ended lines he was the report of. Never Ines's margin, nor anything of Maja's line.
    """
    return make_person("Tomas Lindqvist")


@pytest.fixture
def peer(db: None) -> Person:
    """Maja Ferreira, who also reports to Ines. Sees her own line with Ines, and nothing of Tomas's."""
    return make_person("Maja Ferreira")


@pytest.fixture
def other_manager(db: None) -> Person:
    """Henrik Aalto, who also reports to Ruth. Sees his lines with Leila and Ruth, and nothing of Ines's."""
    return make_person("Henrik Aalto")


@pytest.fixture
def other_report(db: None) -> Person:
    """Leila Castell, who reports to Henrik. Sees her line with Henrik, and nothing of any other."""
    return make_person("Leila Castell")


@pytest.fixture
def lead(db: None) -> Person:
    """Ruth Vandermeer, who manages Ines and Henrik. Sees what is shared on those two lines, and of the lines
    further down dates only: no title, note, number of topics or reason."""
    return make_person("Ruth Vandermeer")


@pytest.fixture
def former_manager(db: None) -> Person:
    """Pavel Novotny, whom Tomas reported to until 30 October. Sees nothing of that line any more but the text
    of commitments he himself owns there, and nothing of Tomas's line with Ines.
    """
    return make_person("Pavel Novotny")


@pytest.fixture
def outsider(db: None) -> Person:
    """Bea Moreau, signed in and on no line with any of the others. Sees her own pages, which are empty."""
    return make_person("Bea Moreau")


@pytest.fixture
def administrator(db: None) -> Person:
    """Nils Haverkamp, on no line. Sees people, lines, invitations, settings, contacts and the health of jobs;
    no topic, record, margin or logbook, and no cadence.
    """
    return make_person("Nils Haverkamp", administrator=True)


@pytest.fixture
def staff(db: None) -> Person:
    """Stella Brook, with Django's staff flag. It opens nothing: she sees what an outsider sees."""
    person = make_person("Stella Brook")
    person.is_staff = True
    person.save(update_fields=["is_staff"])
    return person


@pytest.fixture
def superuser(db: None) -> Person:
    """Sune Dahl, with Django's superuser flag. It opens nothing: he sees what an outsider sees."""
    person = make_person("Sune Dahl")
    person.is_staff = person.is_superuser = True
    person.save(update_fields=["is_staff", "is_superuser"])
    return person


@pytest.fixture
def deactivated(db: None) -> Person:
    """Dora Quist, whose account is switched off. Cannot sign in and sees nothing."""
    person = make_person("Dora Quist")
    person.is_active = False
    person.save(update_fields=["is_active"])
    return person


@pytest.fixture
def unverified(db: None) -> Person:
    """Ugo Rinaldi, who has not shown that his address is his. Cannot sign in and sees nothing."""
    return make_person("Ugo Rinaldi", verified=False)


ClientFor = Callable[[Person], Client]


@pytest.fixture
def held_clock(now: dt.datetime) -> dt.datetime:
    """The clock that pages and jobs read stands still at ``now``; ``clock.hold_at`` puts it elsewhere."""
    clock.hold_at(now)
    return now


@pytest.fixture
def client_for(held_clock: dt.datetime) -> ClientFor:
    """A browser in which a person is signed in, without passwords; the clock stands at ``now``."""

    def signed_in(person: Person) -> Client:
        client = Client()
        client.force_login(person)
        return client

    return signed_in


@contextmanager
def queries() -> Iterator[CaptureQueriesContext]:
    """Count the queries made inside: ``with queries() as made: ...`` and then ``len(made)``."""
    with CaptureQueriesContext(connection) as made:
        yield made


def spoilt(blob: bytes | memoryview) -> bytes:
    """The same bytes but for one bit, so that they cannot be opened."""
    *most, last = bytes(blob)
    return bytes([*most, last ^ 1])


def body_of(response: HttpResponseBase) -> str:
    """A page's text as it came over the wire."""
    if isinstance(response, StreamingHttpResponse):
        return response.getvalue().decode()
    content: bytes = response.content  # type: ignore[attr-defined]  # HttpResponse, as tests get it
    return content.decode()


def assert_sees(response: HttpResponseBase, text: str) -> None:
    """The page was given, not refused and no redirect, and ``text`` stands on it, escaped as templates do."""
    assert response.status_code == 200, f"status {response.status_code}"
    body = body_of(response)
    assert escape(text) in body or text in body, f"{text!r} is not on the page"


def assert_not_sees(response: HttpResponseBase, text: str) -> None:
    """``text`` is nowhere in what was sent: not in the page, whatever its status, and not in a header."""
    sent = body_of(response) + "\n".join(f"{name}: {value}" for name, value in response.items())
    assert escape(text) not in sent, f"{text!r} was sent"
    assert text not in sent, f"{text!r} was sent"


def assert_same_bytes(one: HttpResponseBase, other: HttpResponseBase) -> None:
    """Two answers cannot be told apart: the same status, headers and bytes, but for when they were given."""
    assert one.status_code == other.status_code
    assert _headers(one) == _headers(other)
    assert body_of(one) == body_of(other)


def _headers(response: HttpResponseBase) -> dict[str, str]:
    given_at = ("date", "expires")
    return {name.lower(): value for name, value in response.items() if name.lower() not in given_at}
