"""What an administrator sees: people, who reports to whom, invitations, and whether the jobs are well.

Nothing here could hold a topic, a note or a date of a meeting.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from accounts.models import Person
from oneonone.models import JobHealth, Line, Mail, Side

# Jobs that have not finished well for this long are said to be late: several beats of their clock.
LATE_AFTER = dt.timedelta(minutes=5)


def people(reader: Person, *, words: str = "") -> QuerySet[Person]:
    """Everybody with an account, by name; with ``words``, those whose name or address holds them."""
    if not reader.is_administrator:
        return Person.objects.none()
    found = Person.objects.filter(erased_at__isnull=True)
    if words:
        found = found.filter(Q(name__icontains=words) | Q(email__icontains=words))
    return found.order_by("-is_active", "name", "id")


@dataclass(frozen=True)
class LineAsKept:
    """A reporting line as an administrator keeps it: who, since when, joined or invited, confirmed or not."""

    line: Line
    manager: str
    report: str
    waits_for: str
    expired: bool


def lines(reader: Person, *, now: dt.datetime, words: str = "") -> QuerySet[Line]:
    """Open lines but the *alone* ones, nobody's business; with ``words``, those with such a name."""
    if not reader.is_administrator:
        return Line.objects.none()
    found = Line.objects.open().exclude(start=Line.Start.ALONE)
    if words:
        found = found.filter(
            Q(manager__name__icontains=words)
            | Q(report__name__icontains=words)
            | Q(manager_name__icontains=words)
            | Q(report_name__icontains=words)
        )
    return found.select_related("manager", "report", "invitation").order_by(
        "manager__name", "report__name", "report_name", "id"
    )


def as_kept(line: Line, *, now: dt.datetime) -> LineAsKept:
    """One row of the administrator's list."""
    invitation = line.invitation if line.start == Line.Start.INVITED else None
    return LineAsKept(
        line=line,
        manager=line.name_on(Side.MANAGER),
        report=line.name_on(Side.REPORT),
        waits_for=invitation.email if invitation is not None else "",
        expired=invitation is not None and invitation.expires_at <= now,
    )


@dataclass(frozen=True)
class Health:
    """Whether the background jobs are well, and which mails need a person to look."""

    jobs: tuple[JobHealth, ...]
    late: bool
    mails_waiting: int
    mails_failed: int
    mails_unknown: int


def health(reader: Person, *, now: dt.datetime) -> Health | None:
    """The state of the jobs, for an administrator."""
    if not reader.is_administrator:
        return None
    jobs = tuple(JobHealth.objects.order_by("job"))
    counts = Mail.objects.aggregate(
        waiting=Count("id", filter=Q(state=Mail.State.QUEUED)),
        failed=Count("id", filter=Q(state=Mail.State.FAILED)),
        unknown=Count("id", filter=Q(state=Mail.State.UNKNOWN)),
    )
    last = [job.last_success_at for job in jobs if job.last_success_at is not None]
    return Health(
        jobs=jobs,
        late=not last or now - max(last) > LATE_AFTER,
        mails_waiting=counts["waiting"],
        mails_failed=counts["failed"],
        mails_unknown=counts["unknown"],
    )
