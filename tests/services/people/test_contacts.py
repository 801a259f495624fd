"""Contacts are an administrator's to change, in one step or not at all."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from accounts.models import Person
from accounts.refusals import Refusal
from oneonone.models import Contact, Organisation
from oneonone.services.people import contacts
from oneonone.services.people.contacts import Entry
from oneonone.services.refusals import NotAllowed, Stale, TooLong

ODILE = Entry(kind="people", name="Odile Marsh", how="extension 14")


@pytest.fixture
def organisation(db: None, now: dt.datetime) -> Organisation:
    """The ferry company with one contact."""
    row = Organisation.objects.create(name="Alder Quay Ferries", contacts_text="Kept.", created_at=now)
    Contact.objects.create(kind="safety", name="Harbour watch", how="channel 12")
    return row


def change(organisation: Organisation, actor: Person, now: dt.datetime, **changed: Any) -> Organisation:
    given: dict[str, Any] = {"entries": [ODILE], "note": "", "version": 1}
    return contacts.change(organisation=organisation, actor=actor, now=now, **(given | changed))


def test_what_is_given_takes_the_place_of_what_was(
    organisation: Organisation, administrator: Person, now: dt.datetime
) -> None:
    kept = change(organisation, administrator, now, note="See the red folder.\r\nIt is by the door.")
    assert (kept.version, kept.contacts_confirmed_at) == (2, now)
    assert kept.contacts_text == "See the red folder.\nIt is by the door."
    assert [(row.kind, row.name, row.how) for row in Contact.objects.all()] == [
        ("people", "Odile Marsh", "extension 14")
    ]


@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"version": 7}, Stale),
        ({"note": "x" * 4001}, TooLong),
        ({"note": "a\0b"}, TooLong),
        ({"entries": [Entry(kind="people", name="", how="here")]}, TooLong),
        ({"entries": [ODILE, Entry(kind="people", name="A\nB", how="here")]}, TooLong),
        ({"entries": [ODILE] * 41}, contacts.TooManyContacts),
    ],
)
def test_what_is_refused_leaves_everything_as_it_was(
    organisation: Organisation,
    administrator: Person,
    now: dt.datetime,
    changed: dict[str, Any],
    refusal: type[Refusal],
) -> None:
    with pytest.raises(refusal):
        change(organisation, administrator, now, **changed)
    organisation.refresh_from_db()
    assert (organisation.version, organisation.contacts_text) == (1, "Kept.")
    assert [row.name for row in Contact.objects.all()] == ["Harbour watch"]


def test_nobody_but_an_administrator_changes_them(
    organisation: Organisation, outsider: Person, superuser: Person, now: dt.datetime
) -> None:
    for actor in (outsider, superuser):
        with pytest.raises(NotAllowed):
            change(organisation, actor, now)
    assert [row.name for row in Contact.objects.all()] == ["Harbour watch"]
