"""The number of rows under each key. Nothing here opens a text."""

from __future__ import annotations

import base64
import contextlib
import functools
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from allauth.mfa.models import Authenticator
from django.apps import apps
from django.db.models import Count

from accounts.models import Person, Session
from oneonone import sealed
from oneonone.models import Commitment, PersonKey, RecordLine, Sealed, Topic
from oneonone.selectors.notices import mail_texts
from oneonone.selectors.people import sessions
from oneonone.selectors.private import keys
from oneonone.selectors.private.keys import SECOND_FACTOR, key_encryption_keys

# Fields in which allauth keeps what its adapter locked.
LOCKED_FIELDS = ("secret", "seed")
# Words of lines whose other side is only a name: sealed for whoever wrote them.
SEALED_WORDS = ((Topic, "raiser"), (Commitment, "author"), (RecordLine, "author"))
UNREADABLE = "unreadable"


@functools.cache
def sealed_tables() -> tuple[type[Sealed], ...]:
    """Every table of private rows, by name."""
    found = [model for model in apps.get_models() if issubclass(model, Sealed)]
    return tuple(sorted(found, key=lambda model: model._meta.db_table))


def locked_in(row: Authenticator) -> Iterator[tuple[str, str]]:
    """The locked secrets of a second factor, with the names of their fields."""
    for name in LOCKED_FIELDS:
        if isinstance(row.data.get(name), str):
            yield name, row.data[name]


def locked_by(stored: str) -> str:
    """The id of the key-encryption key that locked this, or CannotOpen."""
    try:
        return sealed.wrapped_by(base64.b64decode(stored, validate=True))
    except ValueError:
        raise sealed.CannotOpen("shape") from None


def under_data_keys(person: Person) -> Counter[int]:
    """How many rows of ``person`` are sealed under each of their data keys, by its number."""
    held: Counter[int] = Counter()
    for model in sealed_tables():
        rows = model.objects.of(person).order_by().values_list("key_number").annotate(Count("pk"))
        held.update(dict(rows))
    for table, writer in SEALED_WORDS:
        words = table._default_manager.filter(**{writer: person}, blob__isnull=False)
        held.update(dict(words.order_by().values_list("key_number").annotate(Count("pk"))))
    return held


def some_wrapping_keys(*, most: int) -> set[str]:
    """The ids of the key-encryption keys that the data keys of the first people are under.

    Only the columns needed are read: the tables may be of an earlier version.
    """
    found = set()
    for pk in list(Person.objects.order_by("date_joined", "pk").values_list("pk", flat=True)[:most]):
        for wrapped in PersonKey.objects.of(Person(pk=pk)).values_list("wrapped", flat=True):
            with contextlib.suppress(sealed.CannotOpen):
                found.add(sealed.wrapped_by(bytes(wrapped)))
    return found


@dataclass
class Held:
    """What there is under the keys of all people that were asked, and of the server.

    ``wrapped``, ``locked``, ``sessions`` and ``mails`` count data keys, second-factor secrets, sessions and
    texts of mails by the id of the key-encryption key (or as unreadable, when they name none); ``in_use``
    and ``retired`` count sealed rows by what their data key is; ``orphans`` counts rows whose data key is
    gone, ``shut`` whatever of the first four does not open.
    """

    wrapped: Counter[str] = field(default_factory=Counter)
    locked: Counter[str] = field(default_factory=Counter)
    sessions: Counter[str] = field(default_factory=Counter)
    mails: Counter[str] = field(default_factory=Counter)
    people: int = 0
    in_use: int = 0
    retired: int = 0
    orphans: int = 0
    shut: int = 0

    def by(self, kek_id: str) -> int:
        """Everything under one key-encryption key."""
        return self.wrapped[kek_id] + self.locked[kek_id] + self.sessions[kek_id] + self.mails[kek_id]

    def ids(self) -> set[str]:
        """The key-encryption keys that hold something."""
        named = {*self.wrapped, *self.locked, *self.sessions, *self.mails}
        return {kek_id for kek_id in named if self.by(kek_id)}


def held(people: Iterable[Person]) -> Held:
    """What the keys hold; whatever is under a key-encryption key is opened once, to see that it does."""
    found = Held()
    for person in people:
        _count_keys(person, found)
        for row in Authenticator.objects.filter(user=person):
            for _name, stored in locked_in(row):
                _count_locked(found, found.locked, SECOND_FACTOR, stored)
    for session in Session.objects.iterator():
        _count_locked(found, found.sessions, sessions.purpose(session.pk), session.payload)
    for mail in mail_texts.sealed_mails().iterator():
        _count_locked(found, found.mails, mail_texts.purpose(mail), mail.body)
    return found


def _count_keys(person: Person, found: Held) -> None:
    retired: dict[int, bool] = {}
    for row in PersonKey.objects.of(person):
        retired[row.number] = row.retired_at is not None
        wrapped = bytes(row.wrapped)
        try:
            found.wrapped[sealed.wrapped_by(wrapped)] += 1
            sealed.unwrap(key_encryption_keys(), person.pk, row.number, wrapped)
        except sealed.CannotOpen as refusal:
            found.wrapped[UNREADABLE] += refusal.reason in ("shape", "version")
            found.shut += 1
    found.people += bool(retired)
    for number, rows in under_data_keys(person).items():
        if number not in retired:
            found.orphans += rows
        elif retired[number]:
            found.retired += rows
        else:
            found.in_use += rows


def _count_locked(found: Held, counts: Counter[str], purpose: str, stored: str) -> None:
    try:
        counts[locked_by(stored)] += 1
        keys.unlock(purpose, stored)
    except sealed.CannotOpen as refusal:
        counts[UNREADABLE] += refusal.reason in ("shape", "version")
        found.shut += 1
