"""Busy times from a person's own calendar: stored sealed, replaced by the next file, deleted when past."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from django.db import transaction

from accounts.models import Person
from oneonone.models import BusyTimes, BusyWeek
from oneonone.models.people import with_people
from oneonone.selectors.private.busy_times import EPOCH, MINUTE, WEEK, WEEKS, Block, week_of
from oneonone.services.private import keys


@transaction.atomic
def replace(*, blocks: Sequence[Block], actor: Person, now: dt.datetime, today: dt.date) -> BusyTimes:
    """Replace the stored busy times of ``actor`` with these: start and end, to the minute.

    ``blocks`` are in UTC and in order. Past blocks, and those after the thirteenth week, are left out.
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
    """Starts and ends in minutes since 1970; a block is cut at the end of a week."""
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
    """Delete everything stored of ``actor``'s calendar. Idempotent."""
    _alone(actor)
    _forget(actor)


def _alone(person: Person) -> None:
    """Lock the person, so that two files sent at once are stored in turn. SQLite transactions lock anyway."""
    Person.objects.select_for_update(no_key=True).get(pk=person.pk)


def _forget(owner: Person) -> None:
    BusyWeek.objects.of(owner).delete()
    BusyTimes.objects.filter(owner=owner).delete()


def forget_past(now: dt.datetime) -> int:
    """Delete everybody's past weeks without reading their contents. Returns the number of rows."""
    present, gone = week_of(now), 0
    for row in with_people(BusyTimes.objects.filter(oldest_week__lt=present), "owner"):
        with transaction.atomic():
            gone += BusyWeek.objects.of(row.owner).filter(week__lt=present).delete()[0]
            if row.latest_week < present:
                gone += BusyTimes.objects.filter(pk=row.pk).delete()[0]
            else:
                BusyTimes.objects.filter(pk=row.pk).update(oldest_week=present)
    return gone
