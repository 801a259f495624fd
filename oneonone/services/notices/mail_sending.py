"""A mail is claimed, its text leaves, and it is settled.

Over SMTP nothing can be sent exactly once: between the last dot and the answer to it a crash leaves both ends
with different stories. So a mail is *sending*, under a Message-ID that never changes, before the first byte
of its text leaves; one that is found in that state later becomes *unknown*, is shown to the administrator,
and is not sent again. One that was only *claimed* goes back to the queue: nothing of it was sent. The claim
is a token that every later step has to show, so a process that wakes up too late sends nothing.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import Enum
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import Case, F, QuerySet, Value, When

from oneonone.models import Mail, Notice
from oneonone.models.people import with_people
from oneonone.selectors.notices import mail_wishes, notices
from oneonone.services.notices import mails, quiet_hours

# A conversation lasts seconds; a claim this old belongs to a process that is gone.
STALE = dt.timedelta(minutes=10)
FIRST_DELAY = dt.timedelta(minutes=1)
LONGEST_DELAY = dt.timedelta(hours=4)
MOST_ATTEMPTS = 12
# Nobody waits any longer for a code that is a day old.
ACCOUNT_MAIL_HOLDS = dt.timedelta(days=1)
OVERTAKEN = "no longer owed"
SENDER_GONE = "sender gone"


class Outcome(Enum):
    """How a conversation with the mail server ended."""

    SENT = "sent"
    REFUSED = "refused for good (5xx)"
    NOT_NOW = "refused for now (4xx), or broken off before the text was sent"
    AWAY = "no server to talk to"
    UNCONFIRMED = "broken off after the text was sent: it may have arrived"


class ClaimLost(Exception):
    """The mail is no longer this process's to send: it took too long, or the mail was cancelled meanwhile."""


@dataclass(frozen=True)
class Claimed:
    """A mail that this process alone may send, with what it is to say. ``claim`` proves it when settling."""

    mail: Mail
    claim: UUID
    notices: tuple[Notice, ...] = ()


def due(now: dt.datetime) -> QuerySet[Mail]:
    """Mails to send."""
    return Mail.objects.filter(state=Mail.State.QUEUED, not_before__lte=now)


def claim_one(now: dt.datetime) -> Claimed | None:
    """Claim the mail that has been due longest, and commit that before anything is sent.

    What it says is looked at again now: notices that were overtaken are left out; a mail without any left, or
    to somebody who may no longer have it, is cancelled; one held up into quiet hours waits. None when no mail
    is due. Refused inside a transaction, which could take the claim back.
    """
    while True:
        mail = due(now).first()
        if mail is None:
            return None
        claim = uuid4()
        with transaction.atomic(durable=True):
            mine = Mail.objects.filter(pk=mail.pk, state=Mail.State.QUEUED).update(
                state=Mail.State.CLAIMED, claim=claim, claimed_at=now, attempts=F("attempts") + 1
            )
        if mine and (claimed := _still_to_send(mail.pk, claim, now)) is not None:
            return claimed


def _still_to_send(pk: UUID, claim: UUID, now: dt.datetime) -> Claimed | None:
    mails_with_people = with_people(Mail.objects.all(), "person", "invitation__invited_by")
    mail = mails_with_people.defer("invitation__token_hash").get(pk=pk)
    if mail.kind == Mail.Kind.ACCOUNT:
        holds = mail.created_at > now - ACCOUNT_MAIL_HOLDS
    elif mail.kind == Mail.Kind.INVITATION:
        holds = mail.invitation is not None and mail.invitation.is_open(now)
    else:
        return _notices_to_send(mail, claim, now)
    if holds:
        return Claimed(mail, claim)
    _cancel(mail, claim)
    return None


def _notices_to_send(mail: Mail, claim: UUID, now: dt.datetime) -> Claimed | None:
    person = mail.person
    if person is None or not mails.wants_mail(person):
        _cancel(mail, claim)
        return None
    if quiet_hours.is_quiet(person, now):
        _give_back(mail, claim, not_before=quiet_hours.after_quiet(person, now))
        return None
    wishes = mail_wishes.of(person)
    if mail.kind == Mail.Kind.DIGEST and wishes.wants(Notice.Kind.TODAY):
        mails.take_in_today(mail=mail, person=person, now=now)
    about = Notice.objects.filter(mail=mail) if mail.kind == Mail.Kind.NOTICE else mail.notices.all()
    rows = list(notices.with_rows(about).order_by("owed_at", "id"))
    if rows and rows[-1].owed_at > now:
        # Put in by a process whose clock, or whose run, is ahead of this one: not yet is not overtaken.
        _give_back(mail, claim, not_before=rows[-1].owed_at)
        return None
    owed = [one for one in notices.still_owed(rows, reader=person, now=now) if wishes.wants(one.kind)]
    if not owed:
        _cancel(mail, claim)
        return None
    mail.to_address = person.email
    return Claimed(mail, claim, tuple(owed))


def _cancel(mail: Mail, claim: UUID) -> None:
    Mail.objects.filter(pk=mail.pk, claim=claim, state=Mail.State.CLAIMED).update(
        state=Mail.State.CANCELLED, error=OVERTAKEN, body="", claim=None
    )


def _give_back(mail: Mail, claim: UUID, *, not_before: dt.datetime) -> None:
    """Not an attempt after all: nobody was spoken to."""
    Mail.objects.filter(pk=mail.pk, claim=claim, state=Mail.State.CLAIMED).update(
        state=Mail.State.QUEUED, not_before=not_before, claim=None, attempts=F("attempts") - 1
    )


def begin(*, claimed: Claimed, now: dt.datetime) -> None:
    """The text is about to leave: committed before its first byte does.

    Raises ClaimLost when the mail is no longer this process's; then nothing may be sent. Refused inside a
    transaction, which could take it back.
    """
    with transaction.atomic(durable=True):
        mine = Mail.objects.filter(pk=claimed.mail.pk, claim=claimed.claim, state=Mail.State.CLAIMED)
        if not mine.update(state=Mail.State.SENDING, claimed_at=now):
            raise ClaimLost


@transaction.atomic
def settle(*, claimed: Claimed, outcome: Outcome, now: dt.datetime, error: str = "") -> Mail:
    """Keep how the conversation ended. ``error`` is a code or the name of a fault, never the server's words.

    Refused for now, it is tried again: after a minute, then twice as long each time, up to four hours, twelve
    times in all. Without a server nothing was tried. What has been found *unknown* meanwhile can still turn
    out to be sent or refused, but is not put back into the queue. An address that erasing has taken out stays
    out.
    """
    mail, mine = claimed.mail, Mail.objects.filter(pk=claimed.mail.pk, claim=claimed.claim)
    sending = mine.filter(state__in=(Mail.State.CLAIMED, Mail.State.SENDING))
    ended = mine.filter(state__in=(Mail.State.CLAIMED, Mail.State.SENDING, Mail.State.UNKNOWN))
    if outcome is Outcome.SENT:
        # An address that was blanked meanwhile, by erasing, stays blank.
        address = Case(When(to_address="", then=Value("")), default=Value(mail.to_address))
        ended.update(state=Mail.State.SENT, sent_at=now, body="", error="", claim=None, to_address=address)
    elif outcome is Outcome.REFUSED or (outcome is Outcome.NOT_NOW and mail.attempts >= MOST_ATTEMPTS):
        ended.update(state=Mail.State.FAILED, body="", error=error[:60], claim=None)
    elif outcome is Outcome.NOT_NOW:
        delay = min(FIRST_DELAY * 2 ** (mail.attempts - 1), LONGEST_DELAY)
        sending.update(state=Mail.State.QUEUED, not_before=now + delay, error=error[:60], claim=None)
    elif outcome is Outcome.AWAY:
        _give_back(mail, claimed.claim, not_before=now + FIRST_DELAY)
    else:
        sending.update(state=Mail.State.UNKNOWN, body="", error=error[:60])
    if outcome is not Outcome.SENT:
        _cancel_for_erased(mail)
    mail.refresh_from_db()
    return mail


def _cancel_for_erased(mail: Mail) -> None:
    """Whoever was erased while it was on its way has no address in it now, and is not written to again."""
    Mail.objects.filter(pk=mail.pk, state=Mail.State.QUEUED, to_address="").update(
        state=Mail.State.CANCELLED, error=OVERTAKEN
    )


def stale(now: dt.datetime) -> QuerySet[Mail]:
    """Mails whose sender is gone: nothing has been heard of it for ten minutes."""
    return Mail.objects.filter(
        state__in=(Mail.State.CLAIMED, Mail.State.SENDING), claimed_at__lte=now - STALE
    )


def settle_stale(now: dt.datetime) -> int:
    """Queue again, or give up on, what senders that are gone have left behind. Returns how many."""
    return take_back(now) + find_unknown(now)


def take_back(now: dt.datetime) -> int:
    """Queue mails again whose claim is too old and whose text never began to leave. Returns how many.

    One that its sender has not survived twelve times is given up.
    """
    left = stale(now).filter(state=Mail.State.CLAIMED)
    given_up = left.filter(attempts__gte=MOST_ATTEMPTS).update(
        state=Mail.State.FAILED, body="", error=SENDER_GONE, claim=None
    )
    return given_up + left.update(state=Mail.State.QUEUED, not_before=now, error=SENDER_GONE, claim=None)


def find_unknown(now: dt.datetime) -> int:
    """Give up on mails whose sender is gone while their text left: they may have arrived. How many."""
    return (
        stale(now)
        .filter(state=Mail.State.SENDING)
        .update(state=Mail.State.UNKNOWN, body="", error=SENDER_GONE)
    )
