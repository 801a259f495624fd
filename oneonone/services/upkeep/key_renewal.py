"""Renewing keys: the key-encryption key over all people and sessions, and the data keys of one person.

Everything that renewing has to remember is in the rows themselves: which key-encryption key is named in the
head of a locked value, which data key sealed a blob, and which data keys are retired and still there. So it
can be stopped anywhere, also by a kill, and called again; and since an old key goes only when nothing is
under it any more, every text can be read at every moment. A row's revision stays: the words have not changed,
and a page that is open in a browser is not made stale.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from allauth.mfa.models import Authenticator
from django.db import transaction

from accounts.models import Person, Session
from oneonone import sealed
from oneonone.models import Mail, PersonKey, Sealed
from oneonone.selectors.notices import mail_texts
from oneonone.selectors.people import sessions
from oneonone.selectors.private import key_usage
from oneonone.selectors.private.keys import SECOND_FACTOR, key_encryption_keys, where
from oneonone.services.private import keys

BATCH = 100


@dataclass(frozen=True)
class Renewed:
    """What one call has changed, and what it could not open and therefore left as it was."""

    rows: int = 0
    left: int = 0

    def __add__(self, other: Renewed) -> Renewed:
        return Renewed(self.rows + other.rows, self.left + other.left)


def everybody() -> Iterator[Person]:
    """All people, one at a time and in an order that stays the same."""
    found = list(Person.objects.order_by("pk")[:BATCH])
    while found:
        yield from found
        found = list(Person.objects.filter(pk__gt=found[-1].pk).order_by("pk")[:BATCH])


def rewrap_keys(*, person: Person) -> Renewed:
    """Wrap the data keys of ``person`` under the newest key-encryption key.

    What is wrapped by none of the keys at hand is left and counted.
    """
    newest = key_encryption_keys()[0]
    done = Renewed()
    for row in PersonKey.objects.of(person):
        old = bytes(row.wrapped)
        try:
            if sealed.wrapped_by(old) == newest.id:
                continue
            key = sealed.unwrap(key_encryption_keys(), person.pk, row.number, old)
        except sealed.CannotOpen:
            done += Renewed(left=1)
            continue
        fresh = sealed.wrap(newest, person.pk, row.number, key.secret)
        # The same key in another wrapping: whoever renews at the same time has done no harm.
        done += Renewed(
            rows=PersonKey.objects.of(person).filter(pk=row.pk, wrapped=old).update(wrapped=fresh)
        )
    return done


def relock_second_factors(*, person: Person) -> Renewed:
    """Lock the secrets of second factors of ``person`` under the newest key-encryption key."""
    done = Renewed()
    for pk in Authenticator.objects.filter(user=person).order_by("pk").values_list("pk", flat=True):
        with transaction.atomic():
            # Locked: a recovery code that is used meanwhile stays used.
            row = Authenticator.objects.select_for_update().filter(pk=pk).first()
            done += Renewed() if row is None else _relock(row)
    return done


def _relock(row: Authenticator) -> Renewed:
    done = Renewed()
    for field, stored in key_usage.locked_in(row):
        try:
            fresh = _locked_anew(SECOND_FACTOR, stored)
        except sealed.CannotOpen:
            done += Renewed(left=1)
            continue
        if fresh is not None:
            row.data[field] = fresh
            done += Renewed(rows=1)
    if done.rows:
        row.save(update_fields=["data"])
    return done


def _locked_anew(purpose: str, stored: str) -> str | None:
    """Return the secret encrypted with the newest key-encryption key, or None if it already is."""
    if key_usage.locked_by(stored) == key_encryption_keys()[0].id:
        return None
    return keys.lock(purpose, keys.unlock(purpose, stored))


def relock_sessions() -> Renewed:
    """Lock what is kept in sessions under the newest key-encryption key.

    A session that no key at hand opens is over for its browser already, and is deleted.
    """
    done = Renewed()
    for row in Session.objects.order_by("pk").iterator(BATCH):
        same = Session.objects.filter(pk=row.pk, payload=row.payload)
        try:
            fresh = _locked_anew(sessions.purpose(row.pk), row.payload)
        except sealed.CannotOpen:
            same.delete()
            continue
        # A page has saved it meanwhile, so it uses the newest key already.
        done += Renewed(rows=same.update(payload=fresh) if fresh else 0)
    return done


def relock_mails() -> Renewed:
    """Lock the texts of mails that are not settled under the newest key-encryption key."""
    done = Renewed()
    for mail in mail_texts.sealed_mails().iterator(BATCH):
        try:
            fresh = _locked_anew(mail_texts.purpose(mail), mail.body)
        except sealed.CannotOpen:
            done += Renewed(left=1)
            continue
        # The mail was settled meanwhile, so it has no text any more.
        same = Mail.objects.filter(pk=mail.pk, body=mail.body)
        done += Renewed(rows=same.update(body=fresh) if fresh else 0)
    return done


@transaction.atomic
def new_data_key(*, person: Person, made_before: dt.datetime, now: dt.datetime) -> bool:
    """Seal what ``person`` writes from now on under a new key, if the one in use was made before an instant.

    A run over all people that was cut short goes on with the same instant, and asks nobody twice. False when
    there is no such key.
    """
    mine = PersonKey.objects.of(person)
    # Waits for transactions that use the key. Later ones find it retired.
    row = (
        mine.filter(retired_at__isnull=True, created_at__lt=made_before)
        .select_for_update(no_key=True)
        .first()
    )
    if row is None:
        return False
    mine.filter(pk=row.pk).update(retired_at=now)
    keys.data_key_for(person, now)
    return True


def reseal(*, person: Person, batch: int = BATCH, between: Callable[[], None] = lambda: None) -> Renewed:
    """Seal everything of ``person`` that is under a retired key under the one in use.

    ``batch`` rows are one transaction. Retired keys that nothing is under any more are deleted. What cannot
    be opened is left, with its key.
    ``between`` is called after each transaction.
    """
    done = Renewed()
    for model in key_usage.sealed_tables():
        after = None
        while True:
            step, after = _reseal_some(model, person, batch, after)
            done += step
            between()
            if after is None:
                break
    drop_unused_keys(person=person)
    return done


@transaction.atomic
def _reseal_some(
    model: type[Sealed], person: Person, batch: int, after: object | None
) -> tuple[Renewed, object | None]:
    """One transaction's worth, and the id to go on after; None at the end."""
    in_use = PersonKey.objects.of(person).filter(retired_at__isnull=True).first()
    if in_use is None:
        return Renewed(), None
    waiting = model.objects.of(person).exclude(key_number=in_use.number).order_by("pk")
    rows = list((waiting if after is None else waiting.filter(pk__gt=after))[:batch])
    try:
        key = sealed.unwrap(key_encryption_keys(), person.pk, in_use.number, bytes(in_use.wrapped))
    except sealed.CannotOpen:
        return Renewed(left=waiting.count()), None
    opener, done = keys.Opener(person), Renewed()
    for row in rows:
        try:
            payload = opener.open(row)
        except sealed.CannotOpen:
            done += Renewed(left=1)
            continue
        blob = sealed.seal(key, where(person, row), payload)
        # The owner has written it meanwhile, so it uses the present key already.
        unchanged = model.objects.of(person).filter(
            pk=row.pk, revision=row.revision, key_number=row.key_number
        )
        done += Renewed(rows=unchanged.update(blob=blob, key_number=key.number))
    return done, rows[-1].pk if len(rows) == batch else None


@transaction.atomic
def drop_unused_keys(*, person: Person) -> int:
    """Delete retired keys of ``person`` that nothing is sealed under; the number of them."""
    needed = {number for number, rows in key_usage.under_data_keys(person).items() if rows}
    unused = PersonKey.objects.of(person).filter(retired_at__isnull=False).exclude(number__in=needed)
    numbers = list(unused.values_list("pk", flat=True))
    unused.filter(pk__in=numbers).delete()
    return len(numbers)
