"""Mails owed: made from notices, or about accounts, and not yet sent. ``sending`` does the rest."""

from __future__ import annotations

import datetime as dt
from urllib.parse import urlsplit
from uuid import UUID, uuid4

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from accounts.models import Invitation, Person
from oneonone import doorbell
from oneonone.models import Mail, Notice
from oneonone.selectors import calendar
from oneonone.services import audit, quiet
from oneonone.services.refusals import OutOfRange

NO_SERVER = "no mail server"


def owe_account_mail(
    *, to_address: str, person: Person | None, subject: str, body: str, now: dt.datetime
) -> Mail:
    """Owe a mail about an account, with its text: it holds a code or link that cannot be made again.

    Quiet hours and the wish for no notices do not apply: somebody waits for it. Refused: what is no address.
    """
    return _owe_text(
        Mail(kind=Mail.Kind.ACCOUNT, person=person),
        to_address=to_address,
        subject=subject,
        body=body,
        now=now,
    )


def owe_invitation_mail(*, invitation: Invitation, link: str, now: dt.datetime) -> Mail:
    """Owe the mail with an invitation's link, which is not sent once the invitation is used or void.

    ``link`` is the full address. The words around it are made when the mail is sent.
    """
    return _owe_text(
        Mail(kind=Mail.Kind.INVITATION, invitation=invitation),
        to_address=invitation.email,
        subject="",
        body=link,
        now=now,
    )


@transaction.atomic
def _owe_text(mail: Mail, *, to_address: str, subject: str, body: str, now: dt.datetime) -> Mail:
    try:
        validate_email(to_address)
    except ValidationError:
        raise OutOfRange(field="email", accepted=_("An e-mail address, such as name@example.org.")) from None
    mail.to_address = to_address
    # A line break in a header would begin another header (RFC 5322 section 2.2).
    mail.subject = " ".join(subject.split())[:200]
    mail.body = body
    mail.message_id = message_id_of(mail.pk)
    mail.not_before = mail.created_at = now
    if not settings.MAIL_CAN_LEAVE:
        mail.state, mail.error, mail.body = Mail.State.CANCELLED, NO_SERVER, ""
    mail.save(force_insert=True)
    doorbell.ring()
    return mail


def message_id_of(mail_id: UUID) -> str:
    """The Message-ID of a mail, the same at every attempt, so that a receiver can tell a second copy."""
    host = (urlsplit(settings.BASE_URL).hostname or "localhost")[-70:].strip(".-")
    return f"<{mail_id}@{host}>"


def to_gather(now: dt.datetime) -> QuerySet[Notice]:
    """Notices of which it is not settled yet whether they go by mail."""
    return Notice.objects.filter(mailed=False, owed_at__lte=now)


def gather_one(now: dt.datetime) -> bool:
    """Put one person's notices that are owed by now into mails; False when nobody has any left.

    At most one digest a person and local day; what is to go at once has a mail of its own. Whoever wants no
    mail gets none; the notice is in the app in any case.
    """
    oldest = to_gather(now).order_by("owed_at", "id").select_related("person").first()
    if oldest is None:
        return False
    with transaction.atomic():
        _gather(oldest.person, now)
    return True


def _gather(person: Person, now: dt.datetime) -> None:
    waiting = Notice.objects.filter(person=person, mailed=False, owed_at__lte=now).order_by("owed_at", "id")
    mine = [
        notice for notice in waiting if Notice.objects.filter(pk=notice.pk, mailed=False).update(mailed=True)
    ]
    if not wants_mail(person):
        return
    wanted = [notice for notice in mine if notice.read_at is None and notice.cancelled_at is None]
    for notice in wanted:
        if notice.at_once:
            _mail_at_once(notice, person, now)
    digested = [notice for notice in wanted if not notice.at_once]
    if digested:
        _digest(person, now).notices.add(*digested)


def wants_mail(person: Person) -> bool:
    """Whether notices go to this person by mail: a server, an active account, and the person's own wish."""
    return bool(
        settings.MAIL_CAN_LEAVE and person.is_active and person.erased_at is None and person.wants_mail
    )


def _mail_at_once(notice: Notice, person: Person, now: dt.datetime) -> None:
    mail = Mail(kind=Mail.Kind.NOTICE, person=person, notice=notice, to_address=person.email, created_at=now)
    mail.message_id = message_id_of(mail.pk)
    mail.not_before = quiet.after_quiet(person, now)
    mail.save(force_insert=True)


def _digest(person: Person, now: dt.datetime) -> Mail:
    """The digest that still takes notices: today's on the person's calendar, or the next day's."""
    not_before = quiet.after_quiet(person, now)
    while True:
        day = calendar.local_day(not_before, person.zone)
        pk = uuid4()
        mail, made = Mail.objects.get_or_create(
            kind=Mail.Kind.DIGEST,
            person=person,
            local_day=day,
            digest=0,
            defaults={
                "id": pk,
                "to_address": person.email,
                "message_id": message_id_of(pk),
                "not_before": not_before,
                "created_at": now,
            },
        )
        # The update holds the row until the notices are on it: nobody claims it in between.
        still_queued = Mail.objects.filter(pk=mail.pk, state=Mail.State.QUEUED)
        if made or still_queued.update(to_address=person.email):
            return mail
        not_before = quiet.morning_of(person, day + dt.timedelta(days=1))


@transaction.atomic
def look_at(*, mail: Mail, actor: Person, now: dt.datetime) -> Mail:
    """An administrator has looked at a mail that was not sent. Done twice, the first time stays."""
    changed = Mail.objects.filter(pk=mail.pk, looked_at__isnull=True).update(looked_at=now)
    if changed:
        audit.note(actor=actor, act="mail looked at", subject=mail.pk, now=now)
    mail.refresh_from_db()
    return mail
