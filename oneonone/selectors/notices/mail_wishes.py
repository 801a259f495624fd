"""Of what, and when, people want mail of their reminders."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from oneonone.models import MailWishes, Notice

Kind = Notice.Kind
# What can be switched off together. What is in none goes to everybody who wants mail at all.
SUBJECTS: dict[str, tuple[str, ...]] = {
    "topics": (Kind.INVITE,),
    "agendas": (Kind.ISSUED, Kind.PREPARE),
    "today": (Kind.TODAY,),
    "records": (Kind.RECORD, Kind.UNANSWERED, Kind.LEFT_OPEN),
    "commitments": (Kind.COMMITMENT, Kind.CHOICE, Kind.OFFERED),
    "changes": (Kind.MOVED, Kind.EXTRA, Kind.CLOCKS, Kind.CALLED_OFF, Kind.PAUSED, Kind.RESUMED),
    "answers": (Kind.PROPOSAL, Kind.AGREED, Kind.DECLINED, Kind.THIRD_TIME),
    "interval": (Kind.CADENCE,),
}
_SUBJECT_OF = {kind: subject for subject, kinds in SUBJECTS.items() for kind in kinds}


@dataclass(frozen=True)
class Wishes:
    """``digest_at`` by the person's own clocks; ``off`` names of ``SUBJECTS``."""

    digest_at: dt.time = MailWishes.USUAL
    off: frozenset[str] = frozenset()

    def wants(self, kind: str) -> bool:
        """Whether notices of a kind go to this person by mail."""
        return _SUBJECT_OF.get(kind) not in self.off


def of_each(people: Iterable[Person]) -> dict[UUID, Wishes]:
    """The wishes of each, in one query."""
    ids = [person.pk for person in people]
    rows = MailWishes.objects.filter(person__in=ids).values_list("person", "digest_at", "off")
    said = {pk: Wishes(at, frozenset(off)) for pk, at, off in rows}
    return {pk: said.get(pk, Wishes()) for pk in ids}


def of(reader: Person) -> Wishes:
    """The reader's own."""
    return of_each([reader])[reader.pk]
