"""Open proposals of another time for a meeting, or of an extra meeting."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import F, Q, QuerySet

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Line, Meeting, Proposal

KINDS = (Proposal.Kind.TIME, Proposal.Kind.EXTRA)
UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)
MOVED_ON = Q(kind=Proposal.Kind.TIME) & (
    ~Q(meeting__state__in=UNSTARTED) | ~Q(meeting__schedule_version=F("base_version"))
)


@dataclass(frozen=True)
class WaitingTime:
    """An open proposal that is still possible. ``was`` is the meeting's time; None for an extra meeting."""

    id: UUID
    kind: str
    by: str
    by_you: bool
    other: str
    starts_at: dt.datetime
    zone: str
    minutes: int
    was: dt.datetime | None


def open_ones() -> QuerySet[Proposal]:
    """All open proposals of a time, outdated ones included."""
    return Proposal.objects.filter(kind__in=KINDS, state=Proposal.State.OPEN)


def waiting(reader: Person, *, now: dt.datetime, line: Line | None = None) -> tuple[WaitingTime, ...]:
    """Proposals on the reader's open lines, or on one line. Those that wait for the reader come first."""
    lines = Line.objects.with_side(reader).open()
    rows = _in_time(now).filter(line__in=lines if line is None else lines.filter(pk=line.pk))
    return tuple(sorted((as_seen(row, reader) for row in rows), key=lambda seen: seen.by_you))


def at_meetings(
    reader: Person, meetings: Sequence[Meeting], *, now: dt.datetime
) -> dict[UUID, tuple[WaitingTime, ...]]:
    """The proposed other time of each of these meetings of the reader that has one."""
    rows = _in_time(now).filter(meeting__in=[meeting.pk for meeting in meetings])
    return {row.meeting_id: (as_seen(row, reader),) for row in rows if row.meeting_id is not None}


def _in_time(now: dt.datetime) -> QuerySet[Proposal]:
    rows = open_ones().filter(lapses_at__gt=now).exclude(MOVED_ON)
    return rows.select_related("line__manager", "line__report", "by", "meeting").order_by("at", "id")


def as_seen(proposal: Proposal, reader: Person) -> WaitingTime:
    """A proposed time as one side sees it."""
    side = proposal.line.side_for(reader)
    meeting = proposal.meeting
    return WaitingTime(
        id=proposal.pk,
        kind=proposal.kind,
        by=proposal.by.called,
        by_you=proposal.by_id == reader.pk,
        other=proposal.line.name_on(side.other),
        starts_at=start_of(proposal),
        zone=proposal.payload["zone"],
        minutes=proposal.payload["minutes"],
        was=None if meeting is None else meeting.starts_at,
    )


def start_of(proposal: Proposal) -> dt.datetime:
    """The instant of the proposed local time, with the time zone rules of today."""
    said = proposal.payload
    day, time = dt.date.fromisoformat(said["day"]), dt.time.fromisoformat(said["time"])
    return cadence.start_instant(day, time, said["zone"])
