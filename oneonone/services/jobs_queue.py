"""How a background job takes rows: one at a time, and a row it cannot deal with is pushed forward.

A job is a queryset of what is due and an act on one row, all of it or nothing. The act claims its row by a
conditional UPDATE or a unique key, so that any number of processes may run the same job. The loop is
outside, in ``tasks``.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Generic, TypeVar
from uuid import UUID

from django.db import InterfaceError, OperationalError, transaction
from django.db.models import Exists, F, OuterRef, QuerySet

from accounts.refusals import Refusal
from oneonone.models import Deferral, JobHealth, Row

log = logging.getLogger(__name__)
RowT = TypeVar("RowT", bound=Row)

LATER = dt.timedelta(hours=1)
HEARTBEAT = dt.timedelta(seconds=15)
FIRST_DELAY = dt.timedelta(minutes=1)
LONGEST_DELAY = dt.timedelta(hours=6)


@dataclass(frozen=True)
class Job(Generic[RowT]):
    """One kind of work that falls due by itself.

    ``due`` gives the rows due at an instant, those waiting longest first. ``act`` does one of them; ``False``
    says that nothing could be done for it yet, and the row is looked at again in an hour.
    """

    name: str
    due: Callable[[dt.datetime], QuerySet[RowT]]
    act: Callable[[RowT, dt.datetime], object]

    def each(self, now: dt.datetime, *, most: int) -> Iterator[None]:
        """Deal with up to ``most`` due rows, and yield after each.

        They are looked up once: by its turn a row may have been dealt with elsewhere, which its act notices.
        A row that fails waits, each time twice as long, and the others go on. A database that cannot be
        reached is no fault of a row: that error is raised.
        """
        for row in list(self._waiting(now)[:most]):
            self._deal_with(row, now)
            yield

    def do_one(self, now: dt.datetime) -> bool:
        """Deal with the row that has been due longest; False when there is none."""
        return any(True for _done in self.each(now, most=1))

    def _deal_with(self, row: RowT, now: dt.datetime) -> None:
        try:
            with transaction.atomic():
                done = self.act(row, now)
        except (OperationalError, InterfaceError):
            raise
        except Refusal as refusal:
            # Somebody else changed the row between the look and the act.
            log.debug("%s: %r refused with %s", self.name, row, type(refusal).__name__)
            push_forward(job=self.name, subject=row.pk, now=now)
        except Exception:
            log.exception("%s: %r failed and is pushed forward", self.name, row)
            push_forward(job=self.name, subject=row.pk, now=now)
            failed(job=self.name, now=now)
        else:
            if done is False:
                wait(job=self.name, subject=row.pk, until=now + LATER)

    def _waiting(self, now: dt.datetime) -> QuerySet[RowT]:
        pushed = Deferral.objects.filter(job=self.name, subject=OuterRef("pk"), until__gt=now)
        return self.due(now).filter(~Exists(pushed))


def push_forward(*, job: str, subject: UUID, now: dt.datetime) -> Deferral:
    """Keep a failing row out of a job's way: a minute, then twice as long each time, at most six hours."""
    deferral, made = Deferral.objects.get_or_create(
        job=job, subject=subject, defaults={"until": now + FIRST_DELAY}
    )
    if not made:
        delay = min(FIRST_DELAY * 2 ** min(deferral.attempts, 16), LONGEST_DELAY)
        Deferral.objects.filter(pk=deferral.pk).update(until=now + delay, attempts=F("attempts") + 1)
        deferral.refresh_from_db()
    return deferral


def wait(*, job: str, subject: UUID, until: dt.datetime) -> None:
    """Look at a row again later. It has not failed: there is nothing to do for it yet."""
    Deferral.objects.update_or_create(job=job, subject=subject, defaults={"until": until, "attempts": 1})


def succeeded(*, job: str, now: dt.datetime) -> None:
    """The heartbeat of a job: it has looked at what is due, and the database answered.

    Kept to some seconds, so that jobs that are rung for often do not write each time.
    """
    health, made = JobHealth.objects.get_or_create(job=job, defaults={"last_success_at": now})
    last = health.last_success_at
    if not made and (last is None or abs(now - last) >= HEARTBEAT):
        JobHealth.objects.filter(pk=health.pk).update(last_success_at=now)


def failed(*, job: str, now: dt.datetime) -> None:
    """A job met something that it could not do."""
    JobHealth.objects.get_or_create(job=job)
    JobHealth.objects.filter(job=job).update(last_failure_at=now, failures=F("failures") + 1)
