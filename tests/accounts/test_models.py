"""What the tables hold on their own, whatever code writes to them."""

from __future__ import annotations

import datetime as dt
import logging
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from accounts.models import DayAway, Invitation, Person

NOW = dt.datetime(2026, 11, 25, 9, 30, tzinfo=dt.UTC)


def person(**changed: Any) -> Person:
    fields = {"email": "one@alderquay.example", "name": "One", "date_joined": NOW, "password": "!"}
    return Person(**(fields | changed))


def invitation(by: Person, **changed: Any) -> Invitation:
    fields = {
        "email": "new@alderquay.example",
        "name": "New",
        "token_hash": "a" * 64,
        "invited_by": by,
        "created_at": NOW,
        "expires_at": NOW + dt.timedelta(days=7),
    }
    return Invitation(**(fields | changed))


def assert_table_refuses(row: models.Model, constraint: str) -> None:
    """The database itself refuses the row, and names the constraint (SQLite names those of CHECK only)."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        row.save(force_insert=True)
    assert constraint in str(caught.value) or "UNIQUE constraint failed" in str(caught.value)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changed", "constraint"),
    [
        ({"email": "One@alderquay.example"}, "person_email_normal"),
        ({"email": " one@alderquay.example"}, "person_email_normal"),
        ({"name": ""}, "person_name_given"),
        ({"name": "   "}, "person_name_given"),
        ({"working_week": "0000000"}, "person_working_week_valid"),
        ({"working_week": "111110"}, "person_working_week_valid"),
        ({"working_week": "1111102"}, "person_working_week_valid"),
        ({"working_week": "11111 1"}, "person_working_week_valid"),
    ],
)
def test_the_table_refuses_a_person_that_is_none(changed: dict[str, Any], constraint: str) -> None:
    assert_table_refuses(person(**changed), constraint)


@pytest.mark.django_db
def test_one_address_is_one_person() -> None:
    person().save(force_insert=True)
    assert_table_refuses(person(name="Two"), "person_email_unique")


@pytest.mark.django_db
def test_an_erased_person_has_no_name_and_stays() -> None:
    person(name="", email="erased-1@invalid", erased_at=NOW).save(force_insert=True)
    assert Person.objects.count() == 1


@pytest.mark.django_db
def test_full_validation_speaks_of_the_address_as_typed() -> None:
    person().save(force_insert=True)
    twin = person(email=" ONE@AlderQuay.example", name="Two")
    with pytest.raises(ValidationError, match="already an account"):
        twin.full_clean()


def test_a_working_week_begins_on_monday() -> None:
    tuesday_off = person(working_week="1011100")
    days = [dt.date(2026, 11, 23) + dt.timedelta(days=count) for count in range(7)]
    assert [tuesday_off.works_on(day) for day in days] == [True, False, True, True, True, False, False]


@pytest.mark.django_db
def test_people_are_found_by_their_address_in_any_case() -> None:
    one = Person.objects.create_user(email=" One@ALDERQUAY.example ", name="One", now=NOW)
    assert Person.objects.get_by_natural_key("ONE@alderquay.example") == one
    assert list(Person.objects.with_address("one@AlderQuay.example")) == [one]
    assert not one.has_usable_password()


@pytest.mark.django_db
def test_the_last_day_away_is_not_before_the_first(marta: Person) -> None:
    row = DayAway(person=marta, first=dt.date(2026, 12, 24), last=dt.date(2026, 12, 23))
    assert_table_refuses(row, "day_away_last_not_before_first")


@pytest.mark.django_db
def test_the_table_refuses_invitations_in_no_state(marta: Person, jonas: Person) -> None:
    assert_table_refuses(invitation(marta, expires_at=NOW), "invitation_expires_after_made")
    assert_table_refuses(invitation(marta, accepted_at=NOW), "invitation_accepted_by_somebody")
    both = invitation(marta, accepted_at=NOW, accepted_by=jonas, revoked_at=NOW)
    assert_table_refuses(both, "invitation_accepted_or_withdrawn")
    invitation(marta).save(force_insert=True)
    assert_table_refuses(invitation(marta), "invitation_token_unique")


def test_nothing_printed_names_anybody(caplog: pytest.LogCaptureFixture) -> None:
    by = person()
    rows = [by, invitation(by), DayAway(person=by, first=NOW.date(), last=NOW.date())]
    with caplog.at_level(logging.DEBUG):
        for row in rows:
            logging.getLogger("accounts").info("%s %r", row, row)
            assert f"{row}" == f"{type(row).__name__} {row.pk}"
    assert "alderquay" not in caplog.text
    assert "New" not in caplog.text


@pytest.mark.django_db
def test_people_see_themselves_and_an_administrator_everybody(
    marta: Person, jonas: Person, administrator: Person
) -> None:
    assert set(Person.objects.visible_to(marta)) == {marta}
    assert set(Person.objects.visible_to(administrator)) == {marta, jonas, administrator}
    administrator.is_active = False
    assert set(Person.objects.visible_to(administrator)) == {administrator}


@pytest.mark.django_db
def test_being_staff_or_superuser_opens_nothing(marta: Person, jonas: Person) -> None:
    jonas.is_staff = jonas.is_superuser = True
    assert set(Person.objects.visible_to(jonas)) == {jonas}
    assert not Invitation.objects.visible_to(jonas)


@pytest.mark.django_db
def test_invitations_and_days_away_are_seen_by_whoever_made_them(
    marta: Person, jonas: Person, administrator: Person
) -> None:
    sent = invitation(marta)
    sent.save(force_insert=True)
    away = DayAway.objects.create(person=marta, first=dt.date(2026, 12, 24), last=dt.date(2026, 12, 31))
    assert list(Invitation.objects.visible_to(marta)) == [sent]
    assert list(Invitation.objects.visible_to(administrator)) == [sent]
    assert not Invitation.objects.visible_to(jonas)
    assert list(DayAway.objects.visible_to(marta)) == [away]
    assert not DayAway.objects.visible_to(administrator)


@pytest.mark.django_db
def test_days_away_touch_a_range_that_shares_a_day_with_them(marta: Person) -> None:
    DayAway.objects.create(person=marta, first=dt.date(2026, 12, 24), last=dt.date(2026, 12, 31))
    touching = DayAway.objects.touching
    assert touching(dt.date(2026, 12, 31), dt.date(2027, 1, 4)).exists()
    assert touching(dt.date(2026, 12, 1), dt.date(2026, 12, 24)).exists()
    assert not touching(dt.date(2027, 1, 1), dt.date(2027, 1, 4)).exists()


def test_every_model_says_how_private_it_is() -> None:
    assert (Person.privacy, DayAway.privacy, Invitation.privacy) == ("shared", "shared", "system")
