"""What a person sees of their own account."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession

from accounts.models import DayAway, Person


def days_away(reader: Person, *, today: dt.date) -> list[DayAway]:
    """The reader's own days away that are not over yet, the next ones first."""
    return list(DayAway.objects.visible_to(reader).filter(last__gte=today))


@dataclass(frozen=True)
class WaysIn:
    """How the reader can sign in, and in how many places they are."""

    email: str
    has_password: bool
    second_factors: int
    sessions: int


def ways_in(reader: Person) -> WaysIn:
    """The reader's own ways in."""
    factors = Authenticator.objects.filter(user=reader).exclude(type=Authenticator.Type.RECOVERY_CODES)
    return WaysIn(
        email=reader.email,
        has_password=reader.has_usable_password(),
        second_factors=factors.count(),
        sessions=UserSession.objects.filter(user=reader).count(),
    )
