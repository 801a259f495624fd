"""What a person sees of their own account."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.auth import HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.models import Session
from django.utils.crypto import constant_time_compare

from accounts.models import DayAway, Person


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
    """One place where the reader is signed in. ``browser`` is what it says of itself, empty when nothing."""

    number: int
    is_current: bool
    browser: str
    since: dt.datetime
    last_seen: dt.datetime
    address: str


def places(reader: Person, *, current: str | None, now: dt.datetime) -> list[Place]:
    """Where the reader is signed in, this place first and then the latest. ``current`` is this session's key.

    A session that has run out, or that a new password has ended, is none.
    """
    listed = list(UserSession.objects.filter(user=reader))
    rows = Session.objects.filter(session_key__in=[row.session_key for row in listed], expire_date__gt=now)
    open_ones = {row.session_key for row in rows if _is_signed_in(reader, row)}
    found = [
        Place(
            number=row.pk,
            is_current=row.session_key == current,
            browser=row.user_agent,
            since=row.created_at,
            last_seen=row.last_seen_at,
            address=row.ip,
        )
        for row in listed
        if row.session_key in open_ones
    ]
    return sorted(found, key=lambda place: (not place.is_current, -place.last_seen.timestamp()))


def _is_signed_in(reader: Person, session: Session) -> bool:
    held = session.get_decoded()
    return held.get(SESSION_KEY) == str(reader.pk) and constant_time_compare(
        held.get(HASH_SESSION_KEY, ""), reader.get_session_auth_hash()
    )
