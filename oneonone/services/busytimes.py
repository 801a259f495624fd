"""Busy times from a person's calendar: stored encrypted, replaced by the next file, deleted when they have
passed.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from django.db import transaction

from accounts.models import Person
from oneonone.models import BusyTimes, BusyWeek
from oneonone.models.people import with_people
from oneonone.selectors.busytimes import EPOCH, MINUTE, WEEK, WEEKS, Block, week_of
from oneonone.services import keys


@transaction.atomic
def replace(*, blocks: Sequence[Block], actor: Person, now: dt.datetime, today: dt.date) -> BusyTimes:
    """Keep these busy times of ``actor`` in place of all that were kept: begins and ends, to the minute.

    Blocks are in UTC and in order. What has passed, and what lies beyond the thirteenth week, is left out.
    """
    _alone(actor)
    _forget(actor)
    weeks = [week_of(now) + n * WEEK for n in range(WEEKS)]
    by_week = _by_week(blocks)
    for week in weeks:
        row = BusyWeek(owner=actor, week=week, created_on=today, changed_on=today)
        keys.seal_for(author=actor, row=row, payload={"blocks": by_week[week]}, now=now)
        row.save(force_insert=True)
    return BusyTimes.objects.create(owner=actor, read_on=today, oldest_week=weeks[0], latest_week=weeks[-1])


def _by_week(blocks: Sequence[Block]) -> defaultdict[dt.date, list[list[int]]]:
    """Begins and ends as minutes since 1970, each block cut where a week ends."""
    found: defaultdict[dt.date, list[list[int]]] = defaultdict(list)
    for begins, ends in blocks:
        while begins < ends:
            week = week_of(begins)
            cut = min(ends, dt.datetime.combine(week + WEEK, dt.time(), tzinfo=dt.UTC))
            found[week].append([(begins - EPOCH) // MINUTE, -(-(cut - EPOCH) // MINUTE)])
            begins = cut
    return found


@transaction.atomic
def remove(*, actor: Person, now: dt.datetime) -> None:
    """Delete all busy times of ``actor``. Idempotent."""
    _alone(actor)
    _forget(actor)


def _alone(person: Person) -> None:
    """Take a lock, so that two concurrent files are stored one after the other.

    SQLite transactions are exclusive already.
    """
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)


def _forget(owner: Person) -> None:
    BusyWeek.objects.of(owner).delete()
    BusyTimes.objects.filter(owner=owner).delete()


def forget_past(now: dt.datetime) -> int:
    """Delete the past weeks of everybody without opening them. Returns the number of rows."""
    present, gone = week_of(now), 0
    for row in with_people(BusyTimes.objects.filter(oldest_week__lt=present), "owner"):
        with transaction.atomic():
            gone += BusyWeek.objects.of(row.owner).filter(week__lt=present).delete()[0]
            if row.latest_week < present:
                gone += BusyTimes.objects.filter(pk=row.pk).delete()[0]
            else:
                BusyTimes.objects.filter(pk=row.pk).update(oldest_week=present)
    return gone
