"""Accounts of the demo sign in to the demo and nowhere else."""

from __future__ import annotations

import datetime as dt

import pytest
from django.contrib.auth import authenticate
from django.http import HttpRequest
from pytest_django import Settings

from accounts.backends import Backend
from accounts.models import Person
from accounts.services import people

PASSWORD = "a quay with seven lamps"


def make(*, is_demo: bool, now: dt.datetime) -> Person:
    return people.create_person(
        email="ines.okafor@example.org",
        name="Ines Okafor",
        password=PASSWORD,
        now=now,
        is_demo=is_demo,
        address_verified=True,
    )


def signs_in() -> bool:
    request = HttpRequest()
    request.META["REMOTE_ADDR"] = "127.0.0.1"
    return authenticate(request, email="ines.okafor@example.org", password=PASSWORD) is not None


@pytest.mark.django_db
@pytest.mark.parametrize(("is_demo", "demo"), [(True, True), (False, True), (False, False)])
def test_everybody_signs_in_where_they_belong(
    is_demo: bool, demo: bool, now: dt.datetime, settings: Settings
) -> None:
    settings.DEMO = demo
    make(is_demo=is_demo, now=now)
    assert signs_in()


@pytest.mark.django_db
def test_a_demo_account_does_not_sign_in_elsewhere(now: dt.datetime, settings: Settings) -> None:
    settings.DEMO = False
    make(is_demo=True, now=now)
    assert not signs_in()


@pytest.mark.django_db
def test_a_session_taken_along_from_a_demo_opens_nothing(now: dt.datetime, settings: Settings) -> None:
    person = make(is_demo=True, now=now)
    settings.DEMO = True
    assert Backend().get_user(person.pk) == person
    settings.DEMO = False
    assert Backend().get_user(person.pk) is None


@pytest.mark.django_db
def test_a_deactivated_account_does_not_sign_in(now: dt.datetime, settings: Settings) -> None:
    settings.DEMO = True
    person = make(is_demo=True, now=now)
    person.is_active = False
    person.save(update_fields=["is_active"])
    assert not signs_in()
