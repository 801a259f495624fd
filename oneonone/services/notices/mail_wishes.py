"""What people say about their mail: when, of what, or none at all by one press in a mail program."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID

from django.core import signing
from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import MailWishes
from oneonone.selectors.notices import mail_wishes as selector
from oneonone.services import audit
from oneonone.services.refusals import OutOfRange

# The link in a mail is good for this one act and for nothing else.
SALT = "oneonone.unsubscribe"


@transaction.atomic
def change(*, actor: Person, digest_at: dt.time, off: Collection[str], now: dt.datetime) -> bool:
    """When the day's mail is to go, and of what none is wanted. Returns whether anything changed."""
    if not set(off) <= set(selector.SUBJECTS):
        raise OutOfRange(field="mail_of", accepted=_("Only what is listed."))
    wanted = selector.Wishes(digest_at, frozenset(off))
    if selector.of(actor) == wanted:
        return False
    MailWishes.objects.update_or_create(person=actor, defaults={"digest_at": digest_at, "off": sorted(off)})
    audit.note(actor=actor, act="profile changed", now=now, person=actor, facts={"fields": "mail wishes"})
    return True


def token_for(person: Person) -> str:
    """What the link in a mail carries: it says whose mail, and is signed."""
    return signing.dumps(person.pk.hex, salt=SALT)


def person_of(token: str) -> Person | None:
    """Whose link it is; None for one that was not made here."""
    try:
        pk = UUID(signing.loads(token, salt=SALT))
    except (signing.BadSignature, ValueError, TypeError, AttributeError):
        return None
    found: Person | None = Person.objects.filter(pk=pk, erased_at__isnull=True).first()
    return found


@transaction.atomic
def unsubscribe(*, person: Person, now: dt.datetime) -> bool:
    """Send this person no notices by mail any more. They turn it on again in their settings.

    Mails about the account, and invitations, are not notices. Done twice, nothing changes.
    """
    changed = Person.objects.filter(pk=person.pk, wants_mail=True).update(wants_mail=False)
    if changed:
        audit.note(
            actor=person, act="profile changed", now=now, person=person, facts={"fields": "wants_mail"}
        )
    return bool(changed)
