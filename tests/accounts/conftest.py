"""People of the ferry company, as the accounts application knows them: without lines and meetings."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from accounts.services import people

NOW = dt.datetime(2026, 11, 25, 9, 30, tzinfo=dt.UTC)
PASSWORD = "a quay with seven lamps"


@pytest.fixture
def now() -> dt.datetime:
    """Wednesday 25 November 2026, 09:30 UTC."""
    return NOW


@pytest.fixture
def marta(db: None) -> Person:
    """Leads the quay crews. Sees her own account and the invitations she sent."""
    return people.create_person(
        email="marta@alderquay.example",
        name="Marta Okafor",
        password=PASSWORD,
        now=NOW,
        address_verified=True,
    )


@pytest.fixture
def jonas(db: None) -> Person:
    """Works on the quay. Sees his own account."""
    return people.create_person(
        email="jonas@alderquay.example",
        name="Jonas Brandt",
        password=PASSWORD,
        now=NOW,
        address_verified=True,
    )


@pytest.fixture
def administrator(db: None) -> Person:
    """Keeps people and lines. Sees every account and every invitation, and nothing that is said."""
    return people.create_person(
        email="office@alderquay.example",
        name="Ines Duarte",
        password=PASSWORD,
        now=NOW,
        is_administrator=True,
        address_verified=True,
    )
