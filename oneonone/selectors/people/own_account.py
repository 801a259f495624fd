"""A person's own account."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from django.contrib.auth import HASH_SESSION_KEY
from django.utils.crypto import constant_time_compare

from accounts.models import DayAway, Person, Session
from accounts.models.session import hash_of_key
from oneonone.selectors.people import sessions
from oneonone.selectors.private.keys import CannotOpen


def days_away(reader: Person, *, today: dt.date) -> list[DayAway]:
    """The reader's own days away that are not over yet, the next ones first."""
    return list(DayAway.objects.visible_to(reader).filter(last__gte=today))


@dataclass(frozen=True)
class WaysIn:
    """How the reader can sign in."""

    email: str
    has_password: bool
    second_factors: int


def ways_in(reader: Person) -> WaysIn:
    """The reader's own ways in."""
    factors = Authenticator.objects.filter(user=reader).exclude(type=Authenticator.Type.RECOVERY_CODES)
    return WaysIn(
        email=reader.email,
        has_password=reader.has_usable_password(),
        second_factors=factors.count(),
    )


@dataclass(frozen=True)
class Place:
    """One place where the reader is signed in. ``browser`` is what it says of itself, empty when nothing.

    ``key_hash`` names the session; ``last_seen`` is to the hour.
    """

    key_hash: str
    is_current: bool
    browser: str
    since: dt.datetime
    last_seen: dt.datetime
    address: str


def places(reader: Person, *, current: str | None, now: dt.datetime) -> list[Place]:
    """Where the reader is signed in, this place first and then the latest. ``current`` is this session's key.

    Expired sessions, and sessions ended by a new password, are left out.
    """
    here = hash_of_key(current or "")
    rows = Session.objects.open_at(now).filter(person=reader)
    found = [place for row in rows if (place := _place(reader, row, is_current=row.pk == here, now=now))]
    return sorted(found, key=lambda place: (not place.is_current, -place.last_seen.timestamp()))


def _place(reader: Person, row: Session, *, is_current: bool, now: dt.datetime) -> Place | None:
    try:
        held = sessions.payload(row)
    except CannotOpen:
        return None
    if not constant_time_compare(held.get(HASH_SESSION_KEY, ""), reader.get_session_auth_hash()):
        return None
    since = held.get(sessions.SIGNED_IN_AT, now.timestamp())
    seen = now.timestamp() if is_current else held.get(sessions.SEEN_AT, since)
    return Place(
        key_hash=row.key_hash,
        is_current=is_current,
        browser=held.get(sessions.BROWSER, ""),
        since=dt.datetime.fromtimestamp(since, dt.UTC),
        last_seen=dt.datetime.fromtimestamp(seen, dt.UTC),
        address=held.get(sessions.ADDRESS, ""),
    )
