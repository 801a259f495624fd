"""What administrators do about the background work."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Deferral, Mail
from oneonone.services import audit
from oneonone.services.notices import job_queue, mails


@transaction.atomic
def send_test_mail(*, actor: Person, now: dt.datetime) -> Mail | None:
    """Owe the actor a mail that says nothing but that it arrived; None without a mail server."""
    if not settings.MAIL_CAN_LEAVE:
        return None
    mail = mails.owe_account_mail(
        to_address=actor.email,
        person=actor,
        subject=_("Test mail"),
        body=_("This mail was sent as every mail of this server is. It has arrived: the mail server works."),
        now=now,
    )
    audit.note(actor=actor, act="test mail sent", subject=mail.pk, now=now)
    return mail


@transaction.atomic
def try_again(*, deferral: Deferral, actor: Person, now: dt.datetime) -> None:
    """Have a row dealt with again that a job could not deal with."""
    job_queue.try_again(deferral=deferral)
    audit.note(
        actor=actor, act="row tried again", subject=deferral.subject, now=now, facts={"job": deferral.job}
    )
