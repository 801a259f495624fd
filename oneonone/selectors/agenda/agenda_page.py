"""The agenda page of one meeting, as one of its two sides sees it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Q

from accounts.models import Person
from oneonone.models import Interval, Line, Meeting, Placement, Proposal, Side
from oneonone.selectors.agenda import opening, order_view, topic_cards
from oneonone.selectors.agenda.opening import Told
from oneonone.selectors.agenda.order_view import OrderView
from oneonone.selectors.agenda.topic_cards import TopicCard
from oneonone.selectors.commitments import commitments
from oneonone.selectors.commitments.commitments import CommitmentView
from oneonone.selectors.dates import coming_meetings, line_calendar, time_proposals
from oneonone.selectors.dates.time_proposals import WaitingTime
from oneonone.selectors.lines import lines
from oneonone.selectors.private import margin, preparation

# From how long before its time on starting a meeting is offered; earlier it is asked first.
START_OFFERED = dt.timedelta(minutes=30)


@dataclass(frozen=True)
class Waiting:
    """A proposal that is open on the line, with the topic, commitment, interval or time that it is about.

    ``start`` is the minute of the meeting at which a topic is asked to begin, if that was said; ``minutes``
    how many are asked for one that has a place; ``makes_dates`` that the dates go by a proposed interval
    already, as they do by the manager's.
    """

    id: UUID
    kind: str
    by: str
    by_you: bool
    at: dt.datetime
    topic: TopicCard | None
    start: int | None
    minutes: int | None
    action: str
    interval: Interval | None
    time: WaitingTime | None
    makes_dates: bool


@dataclass(frozen=True)
class Head:
    """What stands over every page of one meeting. ``other`` is the first name of the other side.

    ``nth`` counts the line's held meetings up to this one.
    """

    meeting: Meeting
    line: Line
    side: Side
    other: str
    other_joined: bool
    interval: Interval | None
    nth: int
    ends_at: dt.datetime
    day: dt.date


@dataclass(frozen=True)
class Agenda:
    """Everything the agenda page shows to one reader."""

    head: Head
    order: OrderView
    opening: tuple[Told, ...]
    offered: tuple[CommitmentView, ...]
    parked: tuple[TopicCard, ...]
    waiting: tuple[Waiting, ...]
    margin: margin.Margin
    next_id: UUID | None
    may_change: bool
    is_over: bool
    may_start_at_once: bool

    @property
    def brings(self) -> dict[str, int]:
        """Minutes that each side has in the order, by side."""
        return {side.value: self.order.brings(side) for side in Side}


def head(reader: Person, meeting: Meeting) -> Head:
    """Whose meeting it is, when, and how often these two have met, as far as neither denies it."""
    line = meeting.line
    side = line.side_for(reader)
    held = Meeting.objects.filter(line=line, state=Meeting.State.CLOSED).filter(coming_meetings.UNDENIED)
    if meeting.held_on is not None:
        held = held.filter(held_on__lt=meeting.held_on)
    return Head(
        meeting=meeting,
        line=line,
        side=side,
        other=line.first_name_on(side.other),
        other_joined=line.person_on(side.other) is not None,
        interval=meeting.interval,
        nth=held.exclude(pk=meeting.pk).count() + 1,
        ends_at=meeting.meant_until,
        day=meeting.held_on or line_calendar.local_day(meeting.minute_zero, meeting.zone),
    )


def of(reader: Person, meeting: Meeting, *, now: dt.datetime, private: bool = True) -> Agenda:
    """The agenda of a meeting for ``reader``. The queries do not grow with the topics.

    Without ``private`` nothing is looked for that only the reader may read, and nothing of it is in the
    answer: their margin, what they have read, the days on which they want to be reminded.
    """
    above = head(reader, meeting)
    read = preparation.order_read(reader, meeting) if private else None
    view, notes = order_view.of(reader, meeting, read=read, private=private)
    line = above.line
    may_change = line.is_open and meeting.is_coming and meeting.given_up_at is None
    return Agenda(
        head=above,
        order=view,
        opening=opening.of(reader, meeting, now=now, private=private) if meeting.is_coming else (),
        offered=commitments.offered(reader, line, now=now, private=private) if may_change else (),
        parked=topic_cards.parked(reader, line) if may_change else (),
        waiting=waiting(reader, meeting, _topics(view)) if may_change else (),
        margin=notes,
        next_id=None if meeting.is_coming else _next(line),
        may_change=may_change,
        may_start_at_once=not is_early(meeting, now=now),
        is_over=meeting.is_coming and above.ends_at <= now and meeting.state != Meeting.State.UNDER_WAY,
    )


def is_early(meeting: Meeting, *, now: dt.datetime) -> bool:
    """Whether it is too long before a meeting's time to start it without being asked."""
    return now < meeting.starts_at - START_OFFERED


def _topics(view: OrderView) -> list[TopicCard]:
    return [
        *(box.topic for box in view.boxes),
        *(kept.topic for kept in view.kept),
        *view.late,
    ]


def waiting(reader: Person, meeting: Meeting, topics: Sequence[TopicCard]) -> tuple[Waiting, ...]:
    """The open proposals of the line that this meeting's pages show; ``topics`` are those on the page."""
    known = {card.placement_id: card for card in topics}
    found = Proposal.objects.filter(line=meeting.line, state=Proposal.State.OPEN)
    if not found.exists():  # mostly, and a tenth of the work of the joins below
        return ()
    rows = (
        found.filter(Q(meeting__isnull=True) | Q(meeting=meeting))
        .filter(Q(placement__isnull=True) | Q(placement__outcome=Placement.Outcome.UNDECIDED))
        .exclude(time_proposals.MOVED_ON)
        .select_related("by", "commitment", "interval", "meeting", "line__manager", "line__report")
        .order_by("at", "id")
    )
    return tuple(
        Waiting(
            id=row.pk,
            kind=row.kind,
            by=_first_name(meeting.line, row.by),
            by_you=row.by_id == reader.pk,
            at=row.at,
            topic=known.get(row.placement_id) if row.placement_id else None,
            start=row.start_minute,
            minutes=None if row.minutes is None else row.minutes[0],
            action=row.commitment.action if row.commitment else "",
            interval=lines.proposed_interval(row) if row.kind == Proposal.Kind.INTERVAL else None,
            time=time_proposals.as_seen(row, reader) if row.kind in time_proposals.KINDS else None,
            makes_dates=row.interval_id is not None,
        )
        for row in rows
    )


def _next(line: Line) -> UUID | None:
    following = coming_meetings.earliest(line) if line.is_open else None
    return following.pk if following is not None else None


def _first_name(line: Line, person: Person) -> str:
    side = line.side_of(person)
    return person.called if side is None else line.first_name_on(side)
