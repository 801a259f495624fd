"""What is owed to one reader, as facts: kind, who, when, and ids. Nobody's words are in it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import Case, Max, Min, Q, QuerySet, When

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Notice, Pause, Placement, Proposal, Seen, Topic
from oneonone.models.people import with_people
from oneonone.selectors.dates import line_calendar, time_proposals

SHOWN = 50
UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)
HEARD = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)
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
# These wait for the reader's answer, and come before what only tells something.
ASKS = (
    Notice.Kind.PROPOSAL,
    Notice.Kind.OFFERED,
    Notice.Kind.UNANSWERED,
    Notice.Kind.LEFT_OPEN,
    Notice.Kind.THIRD_TIME,
    Notice.Kind.CHOICE,
)
# Of these the occurrence begins with what it is about: the kind of a proposal, "date" or "cue".
SAYS_OF_WHAT = (Notice.Kind.PROPOSAL, Notice.Kind.AGREED, Notice.Kind.DECLINED, Notice.Kind.COMMITMENT)
QUESTIONS_FIRST = Case(When(kind__in=ASKS, then=0), default=1)
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
    last day of an interval, or the first of a pause; ``days`` is how far off it is by the reader's calendar,
    below 0 once it has passed. ``is_over`` tells an interval that is over from one that runs out.
    ``subject`` is what the notice is about: a proposal, a topic, a line, or the same as one of the other ids.
    ``of`` is the kind of the proposal, or "date" or "cue" for what of a commitment it reminds.
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
    days: int | None = None
    is_over: bool = False
    of: str = ""

    @property
    def asks(self) -> bool:
        """Whether it waits for an answer."""
        return self.kind in ASKS

    @property
    def code(self) -> str:
        """Which sentence says it: the kind, and what else the sentence depends on."""
        if self.kind == Notice.Kind.CADENCE:
            return f"{self.kind} over" if self.is_over else self.kind
        if self.kind == Notice.Kind.COMMITMENT:
            return f"{self.kind} {_when(self.days)}" if self.of != "cue" else f"{self.kind} cue"
        if self.kind == Notice.Kind.NEW_PASSWORD and not self.other:
            return f"{self.kind} machine"
        return f"{self.kind} {self.of}".strip()


def _when(days: int | None) -> str:
    if days is None or days > 0:
        return "ahead"
    return "today" if days == 0 else "past"


def unread(reader: Person, *, now: dt.datetime) -> tuple[NoticeView, ...]:
    """What the reader has not marked as read and what still holds: at most fifty.

    What waits for an answer comes first, then the newest.
    """
    waiting = Notice.objects.visible_to(reader).filter(read_at__isnull=True, owed_at__lte=now)
    # What meetings have overtaken piles up unread, and is not to take the place of what holds.
    rows = with_rows(waiting.filter(_in_step(now))).order_by(QUESTIONS_FIRST, "-owed_at", "id")
    shown = still_owed(rows[:SHOWN], reader=reader, now=now)
    return tuple(view_of(notice, reader, now=now) for notice in shown)


def _in_step(now: dt.datetime) -> Q:
    """Notices that their meetings have not overtaken, as far as its state and start tell."""
    found = ~Q(kind__in=HOLDS_WHILE)
    for kind, states in HOLDS_WHILE.items():
        ahead = Q(meeting__starts_at__gt=now) if kind in BEFORE_START else Q()
        found |= Q(kind=kind, meeting__state__in=states) & ahead
    return found


def with_rows(notices: QuerySet[Notice]) -> QuerySet[Notice]:
    """Notices with the rows that ``still_owed`` and ``view_of`` look at."""
    return with_people(
        notices.select_related("meeting", "commitment"), "line__manager", "line__report", "about"
    )


def view_of(notice: Notice, reader: Person, *, now: dt.datetime) -> NoticeView:
    """A notice as its reader sees it, from the rows of ``with_rows``."""
    meeting = notice.meeting
    is_cadence = notice.kind == Notice.Kind.CADENCE
    date = _date(notice)
    today = line_calendar.local_day(now, reader.zone)
    return NoticeView(
        id=notice.pk,
        kind=notice.kind,
        owed_at=notice.owed_at,
        subject=notice.subject,
        is_read=notice.read_at is not None,
        other=_other(notice.line, reader) or (notice.about.called if notice.about else ""),
        line_id=notice.line_id,
        meeting_id=notice.meeting_id,
        starts_at=_held_or_planned(meeting) if meeting is not None else None,
        zone=meeting.zone if meeting is not None else "",
        commitment_id=notice.commitment_id,
        date=date,
        days=None if date is None else (date - today).days,
        is_over=is_cadence and notice.occurrence.startswith("over "),
        of=notice.occurrence.partition(" ")[0] if notice.kind in SAYS_OF_WHAT else "",
    )


def _held_or_planned(meeting: Meeting) -> dt.datetime:
    """When a meeting is, or was really held as far as its page was used."""
    was_held = meeting.state == Meeting.State.CLOSED and meeting.ended_at is not None
    return meeting.began_at if was_held and meeting.began_at is not None else meeting.starts_at


def _date(notice: Notice) -> dt.date | None:
    if notice.kind == Notice.Kind.CADENCE:
        return dt.date.fromisoformat(notice.occurrence.rpartition(" ")[2])
    if notice.kind == Notice.Kind.PAUSED and notice.occurrence:
        return dt.date.fromisoformat(notice.occurrence.partition(" ")[0])
    return notice.commitment.current_date if notice.commitment is not None else None


def _other(line: Line | None, reader: Person) -> str:
    side = line.side_of(reader) if line is not None else None
    return line.name_on(side.other) if line is not None and side is not None else ""


def still_owed(
    notices: Sequence[Notice] | QuerySet[Notice], *, reader: Person, now: dt.datetime
) -> list[Notice]:
    """Those that still hold: the reader may know of it, and it has not been overtaken.

    Asked for a page, and again when a mail is about to leave: a line may have ended, a meeting moved or been
    called off, a commitment been settled since the notice was owed. At most ten queries.
    """
    rows = list(notices)
    facts = _Facts.of(rows, reader, now)
    return [notice for notice in rows if _holds(notice, reader, facts, now)]


@dataclass(frozen=True)
class _Facts:
    """What the notices of one reader depend on beyond their own rows, by subject."""

    open_proposals: frozenset[UUID]
    open_topics: frozenset[UUID]
    seen_records: frozenset[UUID]
    pauses: frozenset[UUID]
    heard: dict[UUID, dt.datetime]
    last_closed: dict[UUID, dt.datetime]
    paused: frozenset[UUID]
    under_way: frozenset[UUID]
    next_start: dict[UUID, dt.datetime]

    @classmethod
    def of(cls, notices: list[Notice], reader: Person, now: dt.datetime) -> _Facts:
        def about(*kinds: str) -> list[UUID]:
            return [notice.subject for notice in notices if notice.kind in kinds]

        topics, lines = about(Notice.Kind.THIRD_TIME), about(Notice.Kind.CADENCE)
        coming = Meeting.objects.coming().filter(given_up_at__isnull=True)
        closed = Meeting.objects.filter(state=Meeting.State.CLOSED)
        heard = Placement.objects.filter(outcome__in=HEARD)
        today = now.date()
        not_over = Q(last__isnull=True) | Q(last__gte=today)
        paused = [*lines, *(notice.line_id for notice in notices if notice.kind == Notice.Kind.RESUMED)]
        return cls(
            _ids(_answerable(now), about(Notice.Kind.PROPOSAL)),
            _ids(Topic.objects.filter(state=Topic.State.OPEN), topics),
            _ids(Seen.objects.filter(by=reader), about(Notice.Kind.RECORD), "meeting"),
            _ids(Pause.objects.filter(not_over), about(Notice.Kind.PAUSED)),
            _each(heard, topics, "topic", Max("meeting__closed_at")),
            _each(closed, lines, "line", Max("closed_at")),
            _ids(Pause.objects.filter(not_over, first__lte=today), paused, "line"),
            _ids(coming.filter(state=Meeting.State.UNDER_WAY), lines, "line"),
            _each(coming.filter(starts_at__gt=now), lines, "line", Min("starts_at")),
        )


def _answerable(now: dt.datetime) -> QuerySet[Proposal]:
    """Proposals that somebody can still say yes to."""
    ahead = Q(meeting__isnull=True) | Q(meeting__state__in=(*UNSTARTED, Meeting.State.UNDER_WAY))
    in_time = Q(lapses_at__isnull=True) | Q(lapses_at__gt=now)
    rows = Proposal.objects.filter(ahead, in_time, state=Proposal.State.OPEN)
    return rows.exclude(time_proposals.MOVED_ON)


def _ids(rows: QuerySet[Any], asked: list[Any], column: str = "pk") -> frozenset[UUID]:
    return frozenset(rows.filter(**{f"{column}__in": asked}).values_list(column, flat=True) if asked else ())


def _each(rows: QuerySet[Any], asked: list[UUID], column: str, instant: Max | Min) -> dict[UUID, dt.datetime]:
    """The first or last instant of those rows for each of the asked ones that has any."""
    if not asked:
        return {}
    found = rows.filter(**{f"{column}__in": asked}).order_by().values_list(column)
    return {key: at for key, at in found.annotate(instant) if at is not None}


def _holds(notice: Notice, reader: Person, facts: _Facts, now: dt.datetime) -> bool:
    if notice.cancelled_at is not None or notice.read_at is not None or notice.owed_at > now:
        return False
    if notice.line is not None and not _line_allows(notice, notice.line, reader):
        return False
    if notice.kind in HOLDS_WHILE:
        return _meeting_holds(notice, facts, now)
    if notice.kind in (Notice.Kind.COMMITMENT, Notice.Kind.CHOICE, Notice.Kind.OFFERED):
        return _commitment_holds(notice, reader)
    holds = _OTHERS.get(notice.kind)
    return holds is None or holds(notice, facts)


def _line_allows(notice: Notice, line: Line, reader: Person) -> bool:
    """Whether the reader may still be told of this line."""
    if line.side_of(reader) is None and notice.kind not in (Notice.Kind.COMMITMENT, Notice.Kind.CHOICE):
        return False
    return line.is_open or notice.kind in AFTER_THE_LINE


def _answer_holds(notice: Notice, facts: _Facts) -> bool:
    return notice.meeting is None or notice.meeting.is_coming


def _third_time_holds(notice: Notice, facts: _Facts) -> bool:
    heard = facts.heard.get(notice.subject)
    return notice.subject in facts.open_topics and (heard is None or heard <= notice.owed_at)


def _cadence_holds(notice: Notice, facts: _Facts) -> bool:
    """Whether an interval that runs out or is over still has to be told.

    Not once the two have met, meet just now, or are paused; that it runs out, not while a meeting is planned
    up to its last day.
    """
    closed = facts.last_closed.get(notice.subject)
    if notice.subject in facts.paused | facts.under_way or (closed is not None and closed >= notice.owed_at):
        return False
    starts_at = facts.next_start.get(notice.subject)
    state, _space, last = notice.occurrence.rpartition(" ")
    return state == "over" or starts_at is None or starts_at.date() > dt.date.fromisoformat(last)


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
    same_day = day == commitment.current_date.isoformat()
    if notice.kind == Notice.Kind.CHOICE:
        # Another date answers it, and so does keeping it as it is, until it is carried once more.
        return same_day and (commitment.kept_at is None or commitment.kept_at <= notice.owed_at)
    return kind != "date" or same_day


_OTHERS: dict[str, Callable[[Notice, _Facts], bool]] = {
    Notice.Kind.PROPOSAL: lambda notice, facts: notice.subject in facts.open_proposals,
    Notice.Kind.AGREED: _answer_holds,
    Notice.Kind.DECLINED: _answer_holds,
    Notice.Kind.PAUSED: lambda notice, facts: notice.subject in facts.pauses,
    Notice.Kind.RESUMED: lambda notice, facts: notice.line_id not in facts.paused,
    Notice.Kind.THIRD_TIME: _third_time_holds,
    Notice.Kind.CADENCE: _cadence_holds,
}
