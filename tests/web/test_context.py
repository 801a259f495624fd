"""What the frame of every page knows."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest

from accounts.models import Person
from oneonone.models import Organisation
from oneonone.web import context
from tests.cast import queries


def request_of(person: Person | None) -> HttpRequest:
    request = HttpRequest()
    request.user = person or AnonymousUser()
    return request


def test_the_organisations_name_is_looked_up_only_where_it_shows(now: dt.datetime, db: None) -> None:
    Organisation.objects.create(name="Alder Quay Ferries", created_at=now)
    with queries() as made:
        frame = context.frame(request_of(None))
    assert len(made) == 0
    with queries() as made:
        assert str(frame["organisation_name"]) == "Alder Quay Ferries"
    assert len(made) == 1


def test_before_there_is_one_the_page_says_what_the_server_is_for(db: None) -> None:
    assert str(context.frame(request_of(None))["organisation_name"]) == "One-on-ones"


def test_only_the_demo_has_a_bar(db: None) -> None:
    assert context.frame(request_of(None))["demo"] is None


@pytest.mark.parametrize(("who", "mail"), [("administrator", True), ("outsider", False), (None, False)])
def test_the_bar_of_the_demo_shows_its_clock_and_leads_its_administrator_to_the_mail(
    who: str | None,
    mail: bool,
    settings: Any,
    held_clock: dt.datetime,
    request: pytest.FixtureRequest,
    db: None,
) -> None:
    settings.DEMO = True
    person = request.getfixturevalue(who) if who else None
    assert context.frame(request_of(person))["demo"] == context.DemoBar(now=held_clock, mail=mail)
