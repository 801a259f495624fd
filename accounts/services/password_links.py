"""A single-use link to set a new password, for servers without mail.

The link itself says whose it is, who made it and until when, signed with the server's secret key and bound to
the password as it is now and to the last sign-in: setting a password or signing in ends it, and with it every
other link of that person. So there is no row to steal, and none to clear away. It opens no session: whoever
uses it signs in afterwards, with the second factor if there is one.
"""

from __future__ import annotations

import datetime as dt
import enum
from dataclasses import dataclass
from uuid import UUID

from django.contrib.auth.hashers import make_password
from django.core import signing
from django.db import transaction
from django.utils.crypto import constant_time_compare, salted_hmac

from accounts.models import Person
from accounts.services import leaving
from accounts.services.people import check_password

SALT = "accounts.password_link"
LASTS = dt.timedelta(days=1)


class State(enum.Enum):
    """What a link is good for."""

    OPEN = "open"
    OVER = "over"


@dataclass(frozen=True)
class Link:
    """A link that this server has made: whose, by whom (None for the command line), and whether it works."""

    person: Person
    issuer: Person | None
    state: State


def issue(*, person: Person, issuer: Person | None, now: dt.datetime) -> str:
    """Return the token of a new link.

    It works once, for at most a day, and until the person next signs in.
    """
    until = int((now + LASTS).timestamp())
    by = issuer.pk.hex if issuer else ""
    return signing.Signer(salt=SALT).sign_object([person.pk.hex, by, until, _bound_to(person)])


def read(token: str, *, now: dt.datetime) -> Link | None:
    """Return the link of this token, or None if this server did not make it. Reading does not use it up."""
    try:
        whose, by, until, bound_to = signing.Signer(salt=SALT).unsign_object(token)
    except (signing.BadSignature, ValueError):
        return None
    person = Person.objects.filter(pk=UUID(whose)).first()
    if person is None:
        return None
    works = (
        person.is_active and now.timestamp() < until and constant_time_compare(bound_to, _bound_to(person))
    )
    issuer = Person.objects.filter(pk=UUID(by)).first() if by else None
    return Link(person, issuer, State.OPEN if works else State.OVER)


@transaction.atomic
def use(*, link: Link, password: str) -> bool:
    """Set the password and end all sessions. Returns True for only one of several concurrent calls.

    Refused: a password that is too weak (PasswordRefused), which uses nothing up.
    """
    person = link.person
    check_password(password, person)
    if link.state is not State.OPEN:
        return False
    # Compares with the password hash that was read, so that only one of two concurrent calls succeeds.
    mine = Person.objects.filter(pk=person.pk, password=person.password, is_active=True)
    if not mine.update(password=make_password(password)):
        return False
    leaving.end_sessions(person=person)
    person.refresh_from_db()
    return True


def _bound_to(person: Person) -> str:
    return salted_hmac(SALT, f"{person.password} {person.last_login}", algorithm="sha256").hexdigest()[:32]
