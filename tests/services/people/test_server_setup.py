"""The first administrator: once, and the link is used up last."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from accounts.models import Person
from accounts.refusals import Refusal
from accounts.services import people
from oneonone.models import AuditEvent, Organisation
from oneonone.services.people import server_setup
from oneonone.services.refusals import TooLong

GIVEN: dict[str, Any] = {
    "organisation": "Alder Quay Ferries",
    "name": "Nils Haverkamp",
    "email": "nils@example.org",
    "password": "seven lamps on a long quay",
    "zone": "Europe/London",
}


class Link:
    """A one-time link that counts how often it was asked to be used up."""

    def __init__(self, *, there: bool = True) -> None:
        self.there = there
        self.asked = 0

    def use(self) -> bool:
        self.asked += 1
        there, self.there = self.there, False
        return there


def first(now: dt.datetime, use_link: Callable[[], bool], **changed: Any) -> Person:
    return server_setup.first_administrator(**(GIVEN | changed), use_link=use_link, now=now)


@pytest.mark.django_db
def test_the_first_account_is_an_administrator_of_the_named_organisation(now: dt.datetime) -> None:
    person = first(now, Link().use)
    assert person.is_administrator
    assert Organisation.objects.get().name == "Alder Quay Ferries"
    assert AuditEvent.objects.get(act="server set up").actor == person


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"organisation": ""}, TooLong),
        ({"organisation": "x" * 121}, TooLong),
        ({"password": "lamps"}, people.PasswordRefused),
        ({"zone": "Europe/Alder"}, people.UnknownZone),
        ({"email": "nils"}, people.AddressRefused),
    ],
)
def test_a_refusal_leaves_the_link_unused_and_the_server_empty(
    changed: dict[str, Any], refusal: type[Refusal], now: dt.datetime
) -> None:
    link = Link()
    with pytest.raises(refusal):
        first(now, link.use, **changed)
    assert link.asked == 0
    assert not Person.objects.exists()
    assert not Organisation.objects.exists()


@pytest.mark.django_db
def test_whoever_comes_second_with_the_link_makes_nothing(now: dt.datetime) -> None:
    with pytest.raises(server_setup.SetUpAlready):
        first(now, Link(there=False).use)
    assert not Person.objects.exists()
    assert not Organisation.objects.exists()


def test_a_server_with_people_is_not_set_up_again(outsider: Person, now: dt.datetime) -> None:
    link = Link()
    with pytest.raises(server_setup.SetUpAlready):
        first(now, link.use)
    assert link.asked == 0
    assert list(Person.objects.all()) == [outsider]
