"""How the background work is: when it last ran, what is owed, and what needs somebody to look at it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Min, Q

from accounts.models import Person
from oneonone.models import Deferral, JobHealth, Mail, Notice

# Six ticks of half a minute: one that is missed is no reason to wake anybody.
LATE_AFTER = dt.timedelta(minutes=3)
A_DAY = dt.timedelta(days=1)
SHOWN = 100


@dataclass(frozen=True)
class Health:
    """The state of the jobs and of the mail.

    ``last_run`` is when all jobs were last asked; ``late`` says that this is too long ago. ``oldest_due`` is
    the mail that has been waiting longest for its turn. ``rows_failing`` are rows set aside after a fault.
    """

    jobs: tuple[JobHealth, ...]
    last_run: dt.datetime | None
    late: bool
    notices_waiting: int
    mails_waiting: int
    mails_sent: int
    mails_failed: int
    mails_unknown: int
    oldest_due: dt.datetime | None
    rows_failing: int


def last_run() -> dt.datetime | None:
    """When all jobs were last asked whether anything is due. Raises DatabaseError without a database."""
    return JobHealth.objects.filter(job=JobHealth.RUN).values_list("last_success_at", flat=True).first()


def is_late(last: dt.datetime | None, now: dt.datetime) -> bool:
    """Whether the jobs have been silent for longer than three minutes."""
    return last is None or now - last > LATE_AFTER


def health(reader: Person, *, now: dt.datetime) -> Health | None:
    """The state of the background work, for an administrator."""
    if not reader.is_administrator:
        return None
    last = last_run()
    state = Mail.State
    unseen = Q(looked_at__isnull=True)
    counts = Mail.objects.aggregate(
        waiting=Count("id", filter=Q(state__in=(state.QUEUED, state.CLAIMED, state.SENDING))),
        sent=Count("id", filter=Q(state=state.SENT, sent_at__gt=now - A_DAY)),
        failed=Count("id", filter=unseen & Q(state=state.FAILED)),
        unknown=Count("id", filter=unseen & Q(state=state.UNKNOWN)),
        oldest=Min("not_before", filter=Q(state=state.QUEUED, not_before__lte=now)),
    )
    return Health(
        jobs=tuple(JobHealth.objects.exclude(job=JobHealth.RUN).order_by("job")),
        last_run=last,
        late=is_late(last, now),
        notices_waiting=Notice.objects.filter(mailed=False, owed_at__lte=now).count(),
        mails_waiting=counts["waiting"],
        mails_sent=counts["sent"],
        mails_failed=counts["failed"],
        mails_unknown=counts["unknown"],
        oldest_due=counts["oldest"],
        rows_failing=Deferral.objects.exclude(error="").count(),
    )


def failing_rows(reader: Person) -> tuple[Deferral, ...]:
    """Rows that a job could not deal with, those given up first; at most a hundred. For an administrator."""
    if not reader.is_administrator:
        return ()
    rows = Deferral.objects.exclude(error="").order_by("-attempts", "job", "id")
    return tuple(rows[:SHOWN])
