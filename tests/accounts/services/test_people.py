"""People are made and change what is theirs; what is refused changes nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from allauth.account.models import EmailAddress

from accounts.models import DayAway, Person
from accounts.names import NameRefused
from accounts.refusals import Refusal
from accounts.services import people

TODAY = dt.date(2026, 11, 25)
PROFILE = people.Profile(
    name="Marta Okafor",
    zone="Europe/London",
    working_week="1111100",
    country="",
    subdivision="",
    wants_mail=True,
    single_keys=True,
    quiet_from=dt.time(20),
    quiet_to=dt.time(7),
)


def test_a_person_has_one_primary_address(marta: Person) -> None:
    address = EmailAddress.objects.get(user=marta)
    assert (address.email, address.primary, address.verified) == ("marta@alderquay.example", True, True)
    assert marta.check_password("a quay with seven lamps")


@pytest.mark.django_db
def test_an_address_is_unverified_until_mail_to_it_was_answered(now: dt.datetime) -> None:
    made = people.create_person(email="new@alderquay.example", name="New", now=now)
    assert not EmailAddress.objects.get(user=made).verified
    assert not made.has_usable_password()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "refusal", "field"),
    [
        ({"email": "no address"}, people.AddressRefused, "email"),
        ({"email": "a@b\nBcc: c@d.example"}, people.AddressRefused, "email"),
        ({"email": "é@alderquay.example"}, people.AddressRefused, "email"),
        ({"email": "a" * 250 + "@b.example"}, people.AddressRefused, "email"),
        ({"name": " "}, NameRefused, "name"),
        ({"zone": "Europe/Alder"}, people.UnknownZone, "zone"),
        ({"zone": "../../etc/passwd"}, people.UnknownZone, "zone"),
        ({"country": "ZZ"}, people.UnknownCountry, "country"),
        ({"country": "GB", "subdivision": "BY"}, people.UnknownSubdivision, "subdivision"),
        ({"subdivision": "ENG"}, people.UnknownSubdivision, "subdivision"),
        ({"password": "short"}, people.PasswordRefused, "password"),
        ({"password": "1234567890" * 2}, people.PasswordRefused, "password"),
    ],
)
def test_what_is_refused_makes_nobody(
    changed: dict[str, Any], refusal: type[Refusal], field: str, now: dt.datetime
) -> None:
    fields: dict[str, Any] = {"email": "new@alderquay.example", "name": "New", "password": "a long way to go"}
    with pytest.raises(refusal) as caught:
        people.create_person(**(fields | changed), now=now)
    assert caught.value.field == field
    assert caught.value.accepted
    assert not Person.objects.exists()
    assert not EmailAddress.objects.exists()


def test_an_address_in_use_is_refused_in_any_spelling(marta: Person, now: dt.datetime) -> None:
    with pytest.raises(people.AddressTaken):
        people.create_person(email=" Marta@ALDERQUAY.example", name="Other", now=now)
    assert Person.objects.count() == 1


def test_only_what_changed_is_named(marta: Person) -> None:
    assert people.change_profile(person=marta, profile=PROFILE) == []
    wanted = replace(PROFILE, zone="Europe/Berlin", working_week="1111000", country="DE", subdivision="BY")
    changed = people.change_profile(person=marta, profile=wanted)
    assert changed == ["zone", "working_week", "country", "subdivision"]
    marta.refresh_from_db()
    assert (marta.zone, marta.working_week, marta.country) == ("Europe/Berlin", "1111000", "DE")


@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"name": "Marta\nOkafor"}, NameRefused),
        ({"zone": "Mars/Olympus"}, people.UnknownZone),
        ({"working_week": "0000000"}, people.WorkingWeekRefused),
        ({"working_week": "11111"}, people.WorkingWeekRefused),
        ({"working_week": "111110x"}, people.WorkingWeekRefused),
        ({"country": "ZZ"}, people.UnknownCountry),
        ({"country": "FR", "subdivision": "ENG"}, people.UnknownSubdivision),
    ],
)
def test_a_profile_is_changed_as_a_whole_or_not_at_all(
    marta: Person, changed: dict[str, Any], refusal: type[Refusal]
) -> None:
    with pytest.raises(refusal):
        people.change_profile(person=marta, profile=replace(PROFILE, wants_mail=False, **changed))
    marta.refresh_from_db()
    assert marta.wants_mail


def test_days_away_are_kept_without_a_reason(marta: Person) -> None:
    away = people.add_days_away(
        person=marta, first=dt.date(2026, 12, 24), last=dt.date(2027, 1, 3), today=TODAY
    )
    assert {field.name for field in away._meta.get_fields()} == {"id", "person", "first", "last"}
    people.remove_days_away(days_away=away)
    people.remove_days_away(days_away=away)
    assert not DayAway.objects.exists()


@pytest.mark.parametrize(
    ("first", "last", "refusal", "field"),
    [
        (dt.date(2026, 12, 2), dt.date(2026, 12, 1), people.LastBeforeFirst, "last"),
        (dt.date(2026, 11, 1), dt.date(2026, 11, 24), people.DaysPassed, "last"),
        (dt.date(2026, 12, 1), dt.date(2027, 12, 2), people.DaysTooMany, "last"),
        (dt.date(2029, 12, 1), dt.date(2029, 12, 2), people.DaysTooMany, "last"),
        (dt.date(2026, 12, 7), dt.date(2026, 12, 7), people.DaysEntered, "first"),
    ],
)
def test_days_that_cannot_be_are_refused(
    marta: Person, first: dt.date, last: dt.date, refusal: type[Refusal], field: str
) -> None:
    seventh = dt.date(2026, 12, 7)
    people.add_days_away(person=marta, first=seventh, last=seventh, today=TODAY)
    with pytest.raises(refusal) as caught:
        people.add_days_away(person=marta, first=first, last=last, today=TODAY)
    assert caught.value.field == field
    assert DayAway.objects.count() == 1


@pytest.mark.parametrize("today", [dt.date(2026, 11, 25), dt.date(2028, 2, 29)])
def test_a_whole_leap_year_away_is_accepted(marta: Person, today: dt.date) -> None:
    assert people.add_days_away(person=marta, first=today, last=today + dt.timedelta(days=365), today=today)
