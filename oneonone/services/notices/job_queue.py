"""How a background job takes rows: many at a time where it can, and a row that fails is pushed forward.

A job is a queryset of what is due and an act on one row, all of it or nothing. The act claims its row by a
conditional UPDATE or a unique key, so that any number of processes may run the same job. The loop is
outside, in ``tasks``.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar
from uuid import UUID

from django.db import InterfaceError, OperationalError, transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet

from accounts.refusals import Refusal
from oneonone.models import Deferral, JobHealth, Row

log = logging.getLogger(__name__)
RowT = TypeVar("RowT", bound=Row)

LATER = dt.timedelta(hours=1)
FIRST_DELAY = dt.timedelta(minutes=1)
LONGEST_DELAY = dt.timedelta(hours=6)
MOST_ATTEMPTS = 16  # the last ones six hours apart: more than two days


@dataclass(frozen=True)
class Job(Generic[RowT]):
    """One kind of work that falls due by itself.

    ``due`` gives the rows due at an instant, those waiting longest first, by a column with an index. ``act``
    does one of them; ``False`` says that nothing could be done for it yet, and the row is looked at again in
    an hour. ``batch`` does many in one transaction; when that fails, each is done by ``act`` alone.
    """

    name: str
    due: Callable[[dt.datetime], QuerySet[RowT]]
    act: Callable[[RowT, dt.datetime], object]
    batch: Callable[[Sequence[RowT], dt.datetime], object] | None = None

    def each(self, now: dt.datetime, *, most: int) -> Iterator[None]:
        """Deal with up to ``most`` due rows, and yield for each.

        They are looked up once: by its turn a row may have been dealt with elsewhere, which its act notices.
        A row that fails waits, each time twice as long, and the others go on. A database that cannot be
        reached is no fault of a row: that error is raised.
        """
        rows = list(self.waiting(now)[:most])
        if self.batch is not None and len(rows) > 1 and self._deal_with_all(rows, now):
            yield from (None for _row in rows)
            return
        for row in rows:
            self._deal_with(row, now)
            yield

    def do_one(self, now: dt.datetime) -> bool:
        """Deal with the row that has been due longest; False when there is none."""
        return any(True for _done in self.each(now, most=1))

    def waiting(self, now: dt.datetime) -> QuerySet[RowT]:
        """What is due, without the rows that were pushed forward."""
        pushed = Deferral.objects.filter(Q(until__gt=now) | Q(until__isnull=True), job=self.name)
        return self.due(now).filter(~Exists(pushed.filter(subject=OuterRef("pk"))))

    def _deal_with_all(self, rows: list[RowT], now: dt.datetime) -> bool:
        if self.batch is None:
            return False
        try:
            with transaction.atomic():
                self.batch(rows, now)
        except (OperationalError, InterfaceError):
            raise
        except Exception as fault:
            log.warning("%s: %d rows at once failed with %s", self.name, len(rows), type(fault).__name__)
            return False
        return True

    def _deal_with(self, row: RowT, now: dt.datetime) -> None:
        try:
            with transaction.atomic():
                done = self.act(row, now)
        except (OperationalError, InterfaceError):
            raise
        except Refusal as refusal:
            log.debug("%s: %r refused with %s", self.name, row, type(refusal).__name__)
            # A row that is no longer due was dealt with elsewhere between the look and the act.
            if self.due(now).filter(pk=row.pk).exists():
                push_forward(job=self.name, subject=row.pk, now=now, error=type(refusal).__name__)
        except Exception as fault:
            log.exception("%s: %r failed and is pushed forward", self.name, row)
            push_forward(job=self.name, subject=row.pk, now=now, error=type(fault).__name__)
            failed(job=self.name, now=now)
        else:
            if done is False:
                wait(job=self.name, subject=row.pk, until=now + LATER)


def push_forward(*, job: str, subject: UUID, now: dt.datetime, error: str) -> Deferral:
    """Keep a failing row out of a job's way: a minute, then twice as long each time, at most six hours.

    After sixteen times it is left alone until an administrator has it tried again.
    """
    deferral, made = Deferral.objects.get_or_create(
        job=job, subject=subject, defaults={"until": now + FIRST_DELAY, "error": error[:60]}
    )
    if not made:
        delay = min(FIRST_DELAY * 2 ** min(deferral.attempts, 16), LONGEST_DELAY)
        until = now + delay if deferral.attempts + 1 < MOST_ATTEMPTS else None
        Deferral.objects.filter(pk=deferral.pk).update(
            until=until, attempts=F("attempts") + 1, error=error[:60]
        )
        deferral.refresh_from_db()
    return deferral


def try_again(*, deferral: Deferral) -> None:
    """Take a row back in that was pushed forward, as if it had never failed."""
    Deferral.objects.filter(pk=deferral.pk).delete()


def wait(*, job: str, subject: UUID, until: dt.datetime) -> None:
    """Look at a row again later. It has not failed: there is nothing to do for it yet."""
    Deferral.objects.update_or_create(
        job=job, subject=subject, defaults={"until": until, "attempts": 1, "error": ""}
    )


def succeeded(*, job: str, now: dt.datetime) -> None:
    """A job has done something, or the heartbeat of all of them."""
    if not JobHealth.objects.filter(job=job).update(last_success_at=now):
        JobHealth.objects.get_or_create(job=job, defaults={"last_success_at": now})


def failed(*, job: str, now: dt.datetime) -> None:
    """A job met something that it could not do."""
    JobHealth.objects.get_or_create(job=job)
    JobHealth.objects.filter(job=job).update(last_failure_at=now, failures=F("failures") + 1)
