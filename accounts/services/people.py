"""Creating accounts, and the changes people make to their own."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from allauth.account.models import EmailAddress
from django.contrib.auth import password_validation
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from accounts import addresses, names, places
from accounts.models import DayAway, Person
from accounts.refusals import Refusal

MOST_DAYS_AWAY = 366
MOST_YEARS_AHEAD = 3


class AddressRefused(Refusal):
    """The address is not a valid e-mail address."""

    text = _("This e-mail address cannot be used.")
    field = "email"
    accepted = _("An address such as name@example.org, of at most 254 characters.")


class AddressTaken(Refusal):
    """The address already belongs to an account."""

    text = _("There is already an account with this e-mail address.")
    field = "email"
    accepted = _("An address that nobody signs in with yet.")


class PasswordRefused(Refusal):
    """The password is too short, too common, or too like the person's name or address."""

    text = _("This password cannot be used.")
    field = "password"


class UnknownZone(Refusal):
    """No time zone of the IANA database."""

    text = _("There is no such time zone.")
    field = "zone"
    accepted = _("A place from the list, such as Europe/London.")


class UnknownCountry(Refusal):
    """No country whose public holidays are known."""

    text = _("The public holidays of this country are not known.")
    field = "country"
    accepted = _("A country from the list, or none.")


class UnknownSubdivision(Refusal):
    """Not a part of the country chosen."""

    text = _("This is not a part of the chosen country.")
    field = "subdivision"
    accepted = _("A part from the list of that country, or none.")


class WorkingWeekRefused(Refusal):
    """The working week has no working day, or not seven days."""

    text = _("A working week needs at least one day of work.")
    field = "working_week"
    accepted = _("One to seven days of the week.")


class LastBeforeFirst(Refusal):
    """The last day away comes before the first."""

    text = _("The last day is before the first.")
    field = "last"
    accepted = _("The first day or a later one.")


class DaysPassed(Refusal):
    """The days away are in the past."""

    text = _("These days have passed.")
    field = "last"
    accepted = _("Today or a later day.")


class DaysTooMany(Refusal):
    """The entry is longer than a year or too far ahead."""

    text = _("This is too long, or too far ahead.")
    field = "last"
    accepted = _("At most 366 days in one entry, within the next three years.")


class DaysEntered(Refusal):
    """The same days are already entered."""

    text = _("These days are already entered.")
    field = "first"
    accepted = _("Enter other days.")


@dataclass(frozen=True)
class Profile:
    """A person's own settings: name, zone, working days, holidays and notices.

    ``working_week`` is seven digits, Monday first, 1 for a day of work. ``country`` and ``subdivision``
    choose the public holidays, and both may be empty. No notice is mailed between ``quiet_from`` and
    ``quiet_to``, which are times of day in ``zone``; codes and links that somebody asked for are mailed at
    any time.
    """

    name: str
    zone: str
    working_week: str
    country: str
    subdivision: str
    wants_mail: bool
    single_keys: bool
    quiet_from: dt.time
    quiet_to: dt.time


def usable_address(typed: str, *, field: str = "email") -> str:
    """The address in its one stored form. Raises AddressRefused."""
    address = addresses.normalise(typed)
    try:
        validate_email(address)
    except ValidationError:
        raise AddressRefused(field=field) from None
    if len(address) > 254 or not address.isascii():
        raise AddressRefused(field=field)
    return address


@transaction.atomic
def create_person(
    *,
    email: str,
    name: str,
    now: dt.datetime,
    password: str | None = None,
    zone: str = "Europe/London",
    country: str = "",
    subdivision: str = "",
    is_administrator: bool = False,
    is_demo: bool = False,
    address_verified: bool = False,
) -> Person:
    """Make an account. ``address_verified`` says that the person has proved to receive mail at the address.

    Without a password they sign in by other means. Refused: an invalid or used address, a name without
    visible characters, an unknown zone or country, a weak password.
    """
    address = usable_address(email)
    if Person.objects.with_address(address).exists():
        raise AddressTaken
    person = Person(
        email=address,
        name=names.clean(name),
        zone=known_zone(zone),
        country=country,
        subdivision=subdivision,
        is_administrator=is_administrator,
        is_demo=is_demo,
        date_joined=now,
    )
    _check_country(country, subdivision)
    if password is None:
        person.set_unusable_password()
    else:
        check_password(password, person)
        person.set_password(password)
    try:
        with transaction.atomic():
            person.save(force_insert=True)
            EmailAddress.objects.create(user=person, email=address, verified=address_verified, primary=True)
    except IntegrityError:
        raise AddressTaken from None
    return person


def check_password(password: str, person: Person) -> None:
    """Raise PasswordRefused with every reason if this person may not use the password."""
    try:
        password_validation.validate_password(password, person)
    except ValidationError as errors:
        raise PasswordRefused(accepted=" ".join(errors.messages)) from None


def known_zone(zone: str) -> str:
    """The zone itself. Raises UnknownZone."""
    if zone not in places.zones():
        raise UnknownZone
    return zone


def _check_country(country: str, subdivision: str) -> None:
    if country and country not in places.countries():
        raise UnknownCountry
    if subdivision and subdivision not in places.countries().get(country, frozenset()):
        raise UnknownSubdivision


@transaction.atomic
def change_profile(*, person: Person, profile: Profile) -> list[str]:
    """Store the changes and return the names of the changed fields.

    If one value is refused, nothing is stored.
    """
    _check_country(profile.country, profile.subdivision)
    week = profile.working_week
    if len(week) != 7 or set(week) - {"0", "1"} or "1" not in week:
        raise WorkingWeekRefused
    wanted = {
        "name": names.clean(profile.name),
        "zone": known_zone(profile.zone),
        "working_week": week,
        "country": profile.country,
        "subdivision": profile.subdivision,
        "wants_mail": profile.wants_mail,
        "single_keys": profile.single_keys,
        "quiet_from": profile.quiet_from,
        "quiet_to": profile.quiet_to,
    }
    changed = [field for field, value in wanted.items() if getattr(person, field) != value]
    for field in changed:
        setattr(person, field, wanted[field])
    if changed:
        person.save(update_fields=changed)
    return changed


@transaction.atomic
def add_days_away(*, person: Person, first: dt.date, last: dt.date, today: dt.date) -> DayAway:
    """Add the days from ``first`` to ``last``, both included, as days away. ``today`` is in the person's
    zone.

    No reason is asked for and none is stored. Refused: the last day before the first, days that are over,
    more than a year at once, the very same days twice.
    """
    if last < first:
        raise LastBeforeFirst
    if last < today:
        raise DaysPassed
    far = today.replace(year=today.year + MOST_YEARS_AHEAD, day=min(today.day, 28))
    if (last - first).days >= MOST_DAYS_AWAY or last > far:
        raise DaysTooMany
    if DayAway.objects.filter(person=person, first=first, last=last).exists():
        raise DaysEntered
    try:
        with transaction.atomic():
            return DayAway.objects.create(person=person, first=first, last=last)
    except IntegrityError:
        raise DaysEntered from None


@transaction.atomic
def remove_days_away(*, days_away: DayAway) -> None:
    """Delete the entry. Idempotent."""
    DayAway.objects.filter(pk=days_away.pk).delete()
