"""What everybody may read about the organisation: its name and the contacts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import ClosingDay, Contact, Organisation


def the_organisation() -> Organisation | None:
    """The one row, or None before the server has been set up."""
    return Organisation.objects.first()


def lacks_second_factor(person: Person) -> bool:
    """Whether a setting asks this person for a second factor that they do not have yet."""
    wanted = Organisation.objects.values_list("second_factor_for", flat=True).first()
    asked = wanted == Organisation.SecondFactorFor.EVERYBODY or (
        wanted == Organisation.SecondFactorFor.ADMINISTRATORS and person.is_administrator
    )
    if not asked:
        return False
    factors = Authenticator.objects.filter(user=person).exclude(type=Authenticator.Type.RECOVERY_CODES)
    return not factors.exists()


def closing_days(reader: Person, *, today: dt.date) -> tuple[ClosingDay, ...]:
    """Closing days that are not over, the next ones first, for an administrator."""
    if not reader.is_administrator:
        return ()
    return tuple(ClosingDay.objects.filter(day__gte=today).order_by("day"))


def display_name() -> str:
    """The organisation's own name, the mark on every page; before there is one, what the server is for."""
    organisation = the_organisation()
    return organisation.name if organisation else _("One-on-ones")


@dataclass(frozen=True)
class ContactsPage:
    """Whom to turn to. ``missing`` names the kinds of contact that nobody has filled in."""

    contacts: tuple[Contact, ...]
    missing: tuple[str, ...]
    note: str
    may_edit: bool


def contacts_page(reader: Person) -> ContactsPage:
    """The contacts, the same for everybody; an administrator may also change them."""
    contacts = tuple(Contact.objects.all())
    named = {contact.kind for contact in contacts}
    organisation = the_organisation()
    return ContactsPage(
        contacts=contacts,
        missing=tuple(str(kind.label) for kind in Contact.Kind if kind.value not in named),
        note=organisation.contacts_text if organisation else "",
        may_edit=reader.is_administrator,
    )
