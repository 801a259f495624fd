"""Mails owed: made from notices, or about accounts, and not yet sent. ``sending`` does the rest."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from urllib.parse import urlsplit
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from accounts.models import Invitation, Person
from oneonone import cadence, doorbell
from oneonone.models import Mail, Notice
from oneonone.models.people import with_people
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.notices import mail_texts
from oneonone.selectors.notices import mail_wishes as selector
from oneonone.services import audit
from oneonone.services.notices import quiet_hours
from oneonone.services.notices.job_queue import Job
from oneonone.services.private import keys
from oneonone.services.refusals import OutOfRange

NO_SERVER = "no mail server"
AGENDAS_AT = dt.time(13)
ONE_DAY = dt.timedelta(days=1)
BATCH = 500


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
    mail.body = keys.lock(mail_texts.purpose(mail), body)
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
    return Notice.objects.filter(mailed=False, owed_at__lte=now).order_by("owed_at", "id")


def gather(notice: Notice, now: dt.datetime) -> None:
    """Settle of one notice whether it goes by mail, and with which."""
    gather_all([notice], now)


@transaction.atomic
def gather_all(notices: Sequence[Notice], now: dt.datetime) -> None:
    """Put notices into mails, those of all people in a few statements.

    A person gets at most one mail of reminders a day, at the hour they chose or earlier with the reminder of
    a meeting of that day; at most one of agendas a day, at 13:00; and at once what does not wait. All by
    their own clocks and outside their quiet hours. Whoever wants no mail, or none of this kind, gets none:
    the notice is in the app in any case.
    """
    free = Notice.objects.select_for_update(skip_locked=True, of=("self",)).filter(
        pk__in=[notice.pk for notice in notices], mailed=False
    )
    mine = list(with_people(free, "person").order_by("owed_at", "id"))
    Notice.objects.filter(pk__in=[notice.pk for notice in mine]).update(mailed=True)
    wishes = selector.of_each({notice.person for notice in mine})
    wanted = [
        notice
        for notice in mine
        if notice.read_at is None
        and notice.cancelled_at is None
        and wants_mail(notice.person)
        and wishes[notice.person_id].wants(notice.kind)
    ]
    at_once = [notice for notice in wanted if notice.at_once]
    Mail.objects.bulk_create([_alone(notice, now) for notice in at_once], batch_size=BATCH)
    agendas = [n for n in wanted if not n.at_once and n.kind == Notice.Kind.ISSUED]
    rest = [n for n in wanted if not n.at_once and n.kind != Notice.Kind.ISSUED]
    _put_together(agendas, Mail.Kind.ISSUED, {n.pk: _agendas_at(n.person, now) for n in agendas}, now)
    _put_together(rest, Mail.Kind.DIGEST, {n.pk: _digest_at(n, wishes[n.person_id], now) for n in rest}, now)


GATHER = Job("mail notices", to_gather, gather, gather_all)


def wants_mail(person: Person) -> bool:
    """Whether notices go to this person by mail: a server, an active account, and the person's own wish."""
    return bool(
        settings.MAIL_CAN_LEAVE and person.is_active and person.erased_at is None and person.wants_mail
    )


def _alone(notice: Notice, now: dt.datetime) -> Mail:
    person = notice.person
    mail = Mail(kind=Mail.Kind.NOTICE, person=person, notice=notice, to_address=person.email, created_at=now)
    mail.message_id = message_id_of(mail.pk)
    mail.not_before = quiet_hours.after_quiet(person, now)
    return mail


def _digest_at(notice: Notice, wishes: selector.Wishes, now: dt.datetime) -> dt.datetime:
    """When the mail of reminders goes that takes this notice: the reminder of the day waits for no hour."""
    person = notice.person
    if notice.kind == Notice.Kind.TODAY:
        return quiet_hours.after_quiet(person, now)
    return _next_at(person, wishes.digest_at, now)


def _agendas_at(person: Person, now: dt.datetime) -> dt.datetime:
    """At 13:00, and at once after that: an order issued by hand in the afternoon is to be prepared for."""
    local = now.astimezone(ZoneInfo(person.zone))
    at = cadence.start_instant(local.date(), AGENDAS_AT, person.zone)
    return quiet_hours.after_quiet(person, max(at, now))


def _next_at(person: Person, time: dt.time, now: dt.datetime) -> dt.datetime:
    """The next instant at which it is ``time`` by a person's clocks, or the end of their quiet hours then."""
    day = line_calendar.local_day(now, person.zone)
    at = _on(person, day, time)
    return at if at >= now else _on(person, day + ONE_DAY, time)


def _on(person: Person, day: dt.date, time: dt.time) -> dt.datetime:
    return quiet_hours.after_quiet(person, cadence.start_instant(day, time, person.zone))


def _put_together(
    notices: Sequence[Notice], kind: Mail.Kind, due: dict[UUID, dt.datetime], now: dt.datetime
) -> None:
    """Put each notice into its person's mail of the day, or of the first later one that has not gone."""
    waiting = list(notices)
    wishes = selector.of_each({notice.person for notice in notices}) if notices else {}
    again = {pk: AGENDAS_AT if kind == Mail.Kind.ISSUED else said.digest_at for pk, said in wishes.items()}
    while waiting:
        days = {n.pk: line_calendar.local_day(due[n.pk], n.person.zone) for n in waiting}
        _make(waiting, kind, due, days, now)
        # Held until the notices are on them: nobody claims one in between.
        there = Mail.objects.select_for_update(of=("self",)).filter(
            kind=kind,
            state=Mail.State.QUEUED,
            person__in={n.person_id for n in waiting},
            local_day__in=set(days.values()),
        )
        open_mails = {(mail.person_id, mail.local_day): mail for mail in there}
        put, later = [], []
        for notice in waiting:
            mail = open_mails.get((notice.person_id, days[notice.pk]))
            if mail is None:
                due[notice.pk] = _on(notice.person, days[notice.pk] + ONE_DAY, again[notice.person_id])
                later.append(notice)
            else:
                put.append((mail, notice))
        _put(put, due)
        waiting = later


def _make(
    notices: Sequence[Notice],
    kind: Mail.Kind,
    due: dict[UUID, dt.datetime],
    days: dict[UUID, dt.date],
    now: dt.datetime,
) -> None:
    """Make the mails that are not there yet; the database keeps it to one a person and day."""
    new: dict[tuple[UUID, dt.date], Mail] = {}
    for notice in notices:
        mail = Mail(
            kind=kind,
            person=notice.person,
            local_day=days[notice.pk],
            to_address=notice.person.email,
            not_before=due[notice.pk],
            created_at=now,
        )
        mail.message_id = message_id_of(mail.pk)
        new.setdefault((notice.person_id, days[notice.pk]), mail)
    Mail.objects.bulk_create(new.values(), ignore_conflicts=True, batch_size=BATCH)


def _put(pairs: Sequence[tuple[Mail, Notice]], due: dict[UUID, dt.datetime]) -> None:
    """Put notices on mails, which then go when the earliest of theirs is due."""
    on = Mail.notices.through
    on.objects.bulk_create(
        [on(mail_id=mail.pk, notice_id=notice.pk) for mail, notice in pairs],
        ignore_conflicts=True,
        batch_size=BATCH,
    )
    earlier = {}
    for mail, notice in pairs:
        if due[notice.pk] < mail.not_before or mail.to_address != notice.person.email:
            mail.not_before = min(mail.not_before, due[notice.pk])
            mail.to_address = notice.person.email
            earlier[mail.pk] = mail
    Mail.objects.bulk_update(earlier.values(), ["not_before", "to_address"], batch_size=BATCH)


def take_in_today(*, mail: Mail, person: Person, now: dt.datetime) -> None:
    """Put the reminders of this day that are owed later into the mail that goes now, the day's only one."""
    tomorrow = line_calendar.local_day(now, person.zone) + ONE_DAY
    later = Notice.objects.filter(
        person=person,
        kind=Notice.Kind.TODAY,
        mailed=False,
        owed_at__gt=now,
        owed_at__lt=cadence.start_instant(tomorrow, dt.time(0), person.zone),
    )
    ids = list(later.values_list("pk", flat=True))
    if ids:
        with transaction.atomic():
            Notice.objects.filter(pk__in=ids, mailed=False).update(mailed=True, owed_at=now)
            on = Mail.notices.through
            on.objects.bulk_create([on(mail_id=mail.pk, notice_id=pk) for pk in ids], ignore_conflicts=True)


@transaction.atomic
def look_at(*, mail: Mail, actor: Person, now: dt.datetime) -> Mail:
    """An administrator has looked at a mail that was not sent. Done twice, the first time stays."""
    changed = Mail.objects.filter(pk=mail.pk, looked_at__isnull=True).update(looked_at=now)
    if changed:
        audit.note(actor=actor, act="mail looked at", subject=mail.pk, now=now)
    mail.refresh_from_db()
    return mail
