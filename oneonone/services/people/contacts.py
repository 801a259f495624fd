"""The contacts: edited by administrators, read by everybody."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from accounts.refusals import Refusal
from oneonone.models import Contact, Organisation
from oneonone.models.base import NAME, WORDS
from oneonone.services import audit
from oneonone.services.refusals import NotAllowed, Stale
from oneonone.services.text_limits import many_lines, one_line

HOW = 300
MOST_CONTACTS = 40


class TooManyContacts(Refusal):
    """The list has more contacts than allowed."""

    text = _("These are too many contacts.")
    accepted = _("At most 40.")


@dataclass(frozen=True)
class Entry:
    """One contact: the kind of matter, who, and how to reach them."""

    kind: str
    name: str
    how: str


@transaction.atomic
def change(
    *,
    organisation: Organisation,
    entries: Sequence[Entry],
    note: str,
    version: int,
    actor: Person,
    now: dt.datetime,
) -> Organisation:
    """Replace the contacts and the note above them by what is given. ``version`` is the one that was read.

    Refused: somebody who is no administrator, a list that changed since it was read, lines that do not show
    or are too long, more contacts than anybody would read.
    """
    if not actor.is_administrator:
        raise NotAllowed
    if len(entries) > MOST_CONTACTS:
        raise TooManyContacts
    tidy_note = many_lines(note, field="note", most=WORDS, required=False)
    tidy = [
        Contact(
            kind=Contact.Kind(entry.kind),
            name=one_line(entry.name, field="name", most=NAME),
            how=one_line(entry.how, field="how", most=HOW),
        )
        for entry in entries
    ]
    changed = Organisation.objects.filter(pk=organisation.pk, version=version).update(
        contacts_text=tidy_note, contacts_confirmed_at=now, version=F("version") + 1
    )
    organisation.refresh_from_db()
    if not changed:
        raise Stale(theirs={"note": organisation.contacts_text}, version=organisation.version)
    Contact.objects.all().delete()
    Contact.objects.bulk_create(tidy)
    audit.note(actor=actor, act="contacts changed", now=now, facts={"contacts": len(tidy)})
    return organisation
