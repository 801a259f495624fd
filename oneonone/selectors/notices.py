"""What is owed to one reader, as facts: kind, who, when, and ids. Nobody's words are in it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Max, Q, QuerySet

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Notice, Pause, Proposal, Seen, Topic

SHOWN = 50
UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)
# The states of a meeting in which a notice about it still tells the reader something.
HOLDS_WHILE: dict[str, tuple[str, ...]] = {
    Notice.Kind.INVITE: (Meeting.State.PLANNED,),
    Notice.Kind.ISSUED: (Meeting.State.ISSUED,),
    Notice.Kind.PREPARE: (Meeting.State.ISSUED,),
    Notice.Kind.TODAY: UNSTARTED,
    Notice.Kind.MOVED: UNSTARTED,
    Notice.Kind.EXTRA: UNSTARTED,
    Notice.Kind.CLOCKS: UNSTARTED,
    Notice.Kind.CALLED_OFF: (Meeting.State.CALLED_OFF,),
    Notice.Kind.RECORD: (Meeting.State.CLOSED,),
    Notice.Kind.UNANSWERED: (*UNSTARTED, Meeting.State.NOT_HELD),
    Notice.Kind.LEFT_OPEN: (Meeting.State.UNDER_WAY,),
}
# These are of no use once the meeting should have begun, or at a time it no longer has.
BEFORE_START = (
    Notice.Kind.INVITE,
    Notice.Kind.ISSUED,
    Notice.Kind.PREPARE,
    Notice.Kind.TODAY,
    Notice.Kind.MOVED,
    Notice.Kind.EXTRA,
    Notice.Kind.CLOCKS,
)
# These concern a person whose line has ended as well.
AFTER_THE_LINE = (Notice.Kind.LINE_ENDED, Notice.Kind.COMMITMENT, Notice.Kind.CHOICE)


@dataclass(frozen=True)
class NoticeView:
    """One thing owed to the reader.

    ``other`` is the name of the line's other side, or of whom it is about. ``starts_at`` is the meeting's,
    ``zone`` where its time was agreed. ``date`` is the day in question: a commitment's present date, or the
    last day of an interval. ``is_over`` tells an interval that is over from one that runs out. ``subject`` is
    what the notice is about: a proposal, a topic, a line, or the same as one of the other ids.
    """

    id: UUID
    kind: str
    owed_at: dt.datetime
    subject: UUID
    is_read: bool = False
    other: str = ""
    line_id: UUID | None = None
    meeting_id: UUID | None = None
    starts_at: dt.datetime | None = None
    zone: str = ""
    commitment_id: UUID | None = None
    date: dt.date | None = None
    is_over: bool = False


def unread(reader: Person, *, now: dt.datetime) -> tuple[NoticeView, ...]:
    """What the reader has not marked as read and what still holds, newest first, at most fifty."""
    waiting = Notice.objects.visible_to(reader).filter(read_at__isnull=True, owed_at__lte=now)
    # What meetings have overtaken piles up unread, and is not to take the place of what holds.
    shown = still_owed(with_rows(waiting.filter(_in_step(now)))[:SHOWN], reader=reader, now=now)
    return tuple(view_of(notice, reader) for notice in shown)


def _in_step(now: dt.datetime) -> Q:
    """Notices that their meetings have not overtaken, as far as its state and start tell."""
    found = ~Q(kind__in=HOLDS_WHILE)
    for kind, states in HOLDS_WHILE.items():
        ahead = Q(meeting__starts_at__gt=now) if kind in BEFORE_START else Q()
        found |= Q(kind=kind, meeting__state__in=states) & ahead
    return found


def with_rows(notices: QuerySet[Notice]) -> QuerySet[Notice]:
    """Notices with the rows that ``still_owed`` and ``view_of`` look at."""
    return notices.select_related("line__manager", "line__report", "meeting", "commitment", "about")


def view_of(notice: Notice, reader: Person) -> NoticeView:
    """A notice as its reader sees it, from the rows of ``with_rows``."""
    meeting, commitment = notice.meeting, notice.commitment
    is_cadence = notice.kind == Notice.Kind.CADENCE
    date = commitment.current_date if commitment is not None else None
    if is_cadence:
        date = dt.date.fromisoformat(notice.occurrence.rpartition(" ")[2])
    return NoticeView(
        id=notice.pk,
        kind=notice.kind,
        owed_at=notice.owed_at,
        subject=notice.subject,
        is_read=notice.read_at is not None,
        other=_other(notice.line, reader) or (notice.about.called if notice.about else ""),
        line_id=notice.line_id,
        meeting_id=notice.meeting_id,
        starts_at=meeting.starts_at if meeting is not None else None,
        zone=meeting.zone if meeting is not None else "",
        commitment_id=notice.commitment_id,
        date=date,
        is_over=is_cadence and notice.occurrence.startswith("over "),
    )


def _other(line: Line | None, reader: Person) -> str:
    side = line.side_of(reader) if line is not None else None
    return line.name_on(side.other) if line is not None and side is not None else ""


def still_owed(
    notices: Sequence[Notice] | QuerySet[Notice], *, reader: Person, now: dt.datetime
) -> list[Notice]:
    """Those that still hold: the reader may know of it, and it has not been overtaken.

    Asked for a page, and again when a mail is about to leave: a line may have ended, a meeting moved or been
    called off, a commitment been settled since the notice was owed. At most six queries.
    """
    rows = list(notices)
    facts = _Facts.of(rows, reader)
    return [notice for notice in rows if _holds(notice, reader, facts, now)]


@dataclass(frozen=True)
class _Facts:
    """What the notices of one reader depend on beyond their own rows, by subject."""

    open_proposals: frozenset[UUID]
    open_topics: frozenset[UUID]
    seen_records: frozenset[UUID]
    last_closed: dict[UUID, dt.datetime]
    paused: frozenset[UUID]

    @classmethod
    def of(cls, notices: list[Notice], reader: Person) -> _Facts:
        def about(*kinds: str) -> list[UUID]:
            return [notice.subject for notice in notices if notice.kind in kinds]

        proposals, topics = about(Notice.Kind.PROPOSAL), about(Notice.Kind.THIRD_TIME)
        records, lines = about(Notice.Kind.RECORD), about(Notice.Kind.CADENCE)
        closed = Meeting.objects.filter(line__in=lines, state=Meeting.State.CLOSED)
        return cls(
            _ids(Proposal.objects.filter(pk__in=proposals, state=Proposal.State.OPEN), proposals),
            _ids(Topic.objects.filter(pk__in=topics, state=Topic.State.OPEN), topics),
            _ids(Seen.objects.filter(meeting__in=records, by=reader), records, "meeting"),
            dict(closed.values_list("line").annotate(Max("closed_at"))) if lines else {},
            _ids(Pause.objects.filter(line__in=lines, last__isnull=True), lines, "line"),
        )


def _ids(rows: QuerySet[Any], asked: list[UUID], column: str = "pk") -> frozenset[UUID]:
    return frozenset(rows.values_list(column, flat=True)) if asked else frozenset()


def _holds(notice: Notice, reader: Person, facts: _Facts, now: dt.datetime) -> bool:
    if notice.cancelled_at is not None or notice.read_at is not None or notice.owed_at > now:
        return False
    line = notice.line
    if line is not None:
        if line.side_of(reader) is None and notice.kind not in (Notice.Kind.COMMITMENT, Notice.Kind.CHOICE):
            return False
        if not line.is_open and notice.kind not in AFTER_THE_LINE:
            return False
    if notice.kind in HOLDS_WHILE:
        return _meeting_holds(notice, facts, now)
    if notice.kind in (Notice.Kind.COMMITMENT, Notice.Kind.CHOICE, Notice.Kind.OFFERED):
        return _commitment_holds(notice, reader)
    if notice.kind == Notice.Kind.PROPOSAL:
        return notice.subject in facts.open_proposals
    if notice.kind == Notice.Kind.THIRD_TIME:
        return notice.subject in facts.open_topics
    if notice.kind == Notice.Kind.CADENCE:
        closed = facts.last_closed.get(notice.subject)
        return notice.subject not in facts.paused and (closed is None or closed < notice.owed_at)
    return True


def _meeting_holds(notice: Notice, facts: _Facts, now: dt.datetime) -> bool:
    meeting = notice.meeting
    if meeting is None or meeting.state not in HOLDS_WHILE[notice.kind]:
        return False
    if notice.kind in BEFORE_START:
        return meeting.starts_at > now and notice.schedule_version == meeting.schedule_version
    if notice.kind == Notice.Kind.RECORD:
        return meeting.pk not in facts.seen_records
    return True


def _commitment_holds(notice: Notice, reader: Person) -> bool:
    commitment = notice.commitment
    if commitment is None or commitment.state != Commitment.State.OPEN or commitment.owner_id != reader.pk:
        return False
    if notice.kind == Notice.Kind.OFFERED:
        return commitment.is_offered
    kind, _space, day = notice.occurrence.rpartition(" ")
    return kind.startswith("cue") or day == commitment.current_date.isoformat()
