"""The first administrator of an empty server, and the name of the organisation."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from accounts.refusals import Refusal
from accounts.services import people
from oneonone.models import Organisation
from oneonone.models.base import NAME
from oneonone.services import audit
from oneonone.services.text_limits import one_line


class SetUpAlready(Refusal):
    """The server is set up already, or the link was used meanwhile."""

    text = _("This server has been set up already.")
    accepted = _("Sign in, or ask its administrator for an invitation.")


@transaction.atomic
def first_administrator(
    *,
    organisation: str,
    name: str,
    email: str,
    password: str,
    zone: str,
    use_link: Callable[[], bool],
    now: dt.datetime,
) -> Person:
    """Make the first account, an administrator, and name the organisation.

    ``use_link`` uses the one-time link up and says whether it was there to be used; it is called last, so
    that a refusal leaves the link as it was. Whoever holds the link started the server, so the address counts
    as theirs. Refused: a server that has people, and what ``people.create_person`` refuses.
    """
    if Person.objects.exists():
        raise SetUpAlready
    called = one_line(organisation, field="organisation", most=NAME)
    person = people.create_person(
        email=email,
        name=name,
        password=password,
        zone=zone,
        is_administrator=True,
        address_verified=True,
        now=now,
    )
    Organisation.objects.create(name=called, created_at=now)
    audit.note(actor=person, act="server set up", now=now, person=person)
    if not use_link():
        raise SetUpAlready
    return person
