"""Links for a forgotten password: made by an administrator or on the machine."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from accounts.models import Person
from accounts.services import password_links
from accounts.services.password_links import Link
from oneonone.models import Notice
from oneonone.services import audit
from oneonone.services.notices import notices
from oneonone.services.refusals import NotAllowed, NotNow, NotYourself


@transaction.atomic
def issue(*, person: Person, actor: Person | None, now: dt.datetime) -> str:
    """The token of a new link for this person, to be shown once; ``actor`` is None on the machine.

    Refused: somebody who is no administrator, a link for oneself, one for an account that is closed.
    """
    if actor is not None and not actor.is_administrator:
        raise NotAllowed
    if actor is not None and actor.pk == person.pk:
        raise NotYourself
    if not person.is_active or person.erased_at is not None:
        raise NotNow(accepted=_("An account that is open: open it again first."))
    audit.note(actor=actor, act="password link made", person=person, now=now)
    return password_links.issue(person=person, issuer=actor, now=now)


@transaction.atomic
def use(*, link: Link, password: str, now: dt.datetime) -> bool:
    """Set the password; False when the link has been used meanwhile.

    The person is signed out everywhere, and finds a notice that says who made the link: nobody else tells
    them that their password is another one.
    """
    if not password_links.use(link=link, password=password):
        return False
    person = link.person
    audit.note(actor=None, act="password set with a link", person=person, now=now)
    notices.owe(
        kind=Notice.Kind.NEW_PASSWORD,
        person=person,
        subject=person.pk,
        about=link.issuer,
        occurrence=now.isoformat(),
        mailed=True,
        now=now,
    )
    return True
