"""A person's own lines, and one line with its history."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q, QuerySet

from accounts.models import Person
from oneonone.models import Interval, Line, Meeting, Move, Pause, Proposal, Side
from oneonone.selectors.agenda import duration_history as histories
from oneonone.selectors.cadence.standing import Standing, of_line, of_lines
from oneonone.selectors.dates import coming_meetings as coming
from oneonone.selectors.dates import line_calendar


@dataclass(frozen=True)
class LineRow:
    """One line as its reader sees it among theirs. ``other`` is the name of the other side."""

    line: Line
    side: Side
    other: str
    joined: bool
    standing: Standing
    meeting: Meeting | None


@dataclass(frozen=True)
class Lines:
    """The reader's lines: those they manage, those on which they report, and those that have ended."""

    managed: tuple[LineRow, ...]
    reporting: tuple[LineRow, ...]
    ended: tuple[LineRow, ...]

    def __bool__(self) -> bool:
        return bool(self.managed or self.reporting or self.ended)


def own(reader: Person, *, now: dt.datetime) -> Lines:
    """All lines whose pages the reader may open, in a constant number of queries."""
    lines = list(
        Line.objects.visible_to(reader)
        .select_related("manager", "report", "invitation")
        .order_by("created_at", "id")
    )
    standings = of_lines(lines, now=now)
    meetings = coming.earliest_of([line.pk for line in lines if line.is_open])
    rows = sorted(
        (_row(reader, line, standings[line.pk], meetings.get(line.pk)) for line in lines),
        key=lambda row: (row.other.casefold(), row.line.pk),
    )
    is_open = [row for row in rows if row.line.is_open]
    return Lines(
        managed=tuple(row for row in is_open if row.side is Side.MANAGER),
        reporting=tuple(row for row in is_open if row.side is Side.REPORT),
        ended=tuple(row for row in rows if not row.line.is_open),
    )


def _row(reader: Person, line: Line, standing: Standing, meeting: Meeting | None) -> LineRow:
    side = line.side_for(reader)
    return LineRow(
        line=line,
        side=side,
        other=line.name_on(side.other),
        joined=line.person_on(side.other) is not None,
        standing=standing,
        meeting=meeting,
    )


@dataclass(frozen=True)
class PastMeeting:
    """One meeting in a line's history, with the days it was moved from."""

    meeting_id: UUID
    day: dt.date
    state: str
    is_extra: bool
    readable: bool
    moved_from: tuple[dt.date, ...]
    denied: bool


@dataclass(frozen=True)
class LinePage:
    """A line as one of its sides sees it: what is agreed, what comes, what has been.

    ``skipped`` are dates before the coming meeting on which the two cannot meet, as both are away.
    ``runs`` is how its topics run against the minutes asked; None on a line that has ended.
    """

    line: Line
    side: Side
    other: str
    joined: bool
    standing: Standing
    intervals: tuple[Interval, ...]
    agreed: Interval | None
    proposal: Proposal | None
    proposed: Interval | None
    pause: Pause | None
    coming: Meeting | None
    skipped: tuple[dt.date, ...]
    unanswered: tuple[Meeting, ...]
    runs: histories.History | None

    @property
    def you_go_by_it(self) -> bool:
        """Whether the reader lets minutes go by how topics have run."""
        return self.runs is not None and self.runs.used_by(self.side)

    @property
    def they_go_by_it(self) -> bool:
        """Whether the other side does."""
        return self.runs is not None and self.runs.used_by(self.side.other)


def page(reader: Person, line: Line, *, now: dt.datetime) -> LinePage:
    """Everything the page of one line shows. A report of an ended line sees the closed meetings alone."""
    side = line.side_for(reader)
    standing = of_line(line, now=now)
    intervals = line_calendar.intervals_of(line)
    agreed = line_calendar.in_force([i for i in intervals if i.agreed_at is not None], standing.today)
    pauses = line.pauses.filter(Q(last__isnull=True) | Q(last__gte=standing.today)).order_by("first")
    proposals = line.proposals.filter(kind=Proposal.Kind.INTERVAL, state=Proposal.State.OPEN)
    proposal = proposals.select_related("by", "interval").first()
    meeting = coming.earliest(line) if line.is_open else None
    return LinePage(
        line=line,
        side=side,
        other=line.name_on(side.other),
        joined=line.person_on(side.other) is not None,
        standing=standing,
        intervals=tuple(intervals),
        agreed=agreed,
        proposal=proposal,
        proposed=None if proposal is None else proposed_interval(proposal),
        pause=pauses.first(),
        coming=meeting,
        skipped=() if meeting is None else line_calendar.skipped_before(meeting),
        unanswered=tuple(unanswered([line.pk], now=now)) if line.is_open else (),
        runs=histories.of_line(line) if line.is_open else None,
    )


def proposed_interval(proposal: Proposal) -> Interval:
    """The interval that a proposal is about: the row the manager's has made, or the terms of the report's."""
    if proposal.interval is not None:
        return proposal.interval
    terms = dict(proposal.payload)
    terms["anchor"] = dt.date.fromisoformat(terms["anchor"])
    terms["time"] = dt.time.fromisoformat(terms["time"])
    return Interval(line=proposal.line, **terms)


def unanswered(line_ids: list[UUID], *, now: dt.datetime) -> list[Meeting]:
    """Meetings whose time has passed and of which nobody has said whether they were held."""
    rows = (
        Meeting.objects.filter(
            line__in=line_ids,
            state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED, Meeting.State.UNDER_WAY),
            starts_at__lt=now,
        )
        .select_related("line__manager", "line__report")
        .order_by("starts_at")
    )
    return [meeting for meeting in rows if meeting.starts_at + dt.timedelta(minutes=meeting.minutes) <= now]


def history(reader: Person, line: Line, *, now: dt.datetime) -> QuerySet[Meeting]:
    """What has been on a line, newest first, as far as the reader may see it."""
    return (
        Meeting.objects.visible_to(reader)
        .filter(line=line)
        .filter(Q(starts_at__lt=now) | Q(state__in=(Meeting.State.CLOSED, Meeting.State.CALLED_OFF)))
        .order_by("-starts_at", "id")
    )


def as_past(meetings: Sequence[Meeting]) -> tuple[PastMeeting, ...]:
    """Meetings of a line's history with what has become of them, in two queries."""
    ids = [meeting.pk for meeting in meetings]
    moved: dict[UUID, list[dt.date]] = {}
    for move in Move.objects.filter(meeting__in=ids).select_related("meeting").order_by("at"):
        moved.setdefault(move.meeting_id, []).append(
            line_calendar.local_day(move.from_start, move.meeting.zone)
        )
    denied = set(Meeting.objects.filter(pk__in=ids, claims__held=False).values_list("pk", flat=True))
    return tuple(
        PastMeeting(
            meeting_id=meeting.pk,
            day=meeting.held_on or line_calendar.local_day(meeting.starts_at, meeting.zone),
            state=meeting.state,
            is_extra=meeting.is_extra,
            readable=meeting.state == Meeting.State.CLOSED,
            moved_from=tuple(moved.get(meeting.pk, ())),
            denied=meeting.pk in denied,
        )
        for meeting in meetings
    )
