"""The record of a meeting, as one of the two sees it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from oneonone.models import Meeting, Placement, RecordAddition, RecordLine, Seen, Side
from oneonone.selectors.agenda import agenda_page, topic_cards
from oneonone.selectors.agenda.agenda_page import Head
from oneonone.selectors.agenda.topic_cards import TopicCard
from oneonone.selectors.commitments import commitments
from oneonone.selectors.commitments.commitments import CommitmentView
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.private import margin

_KEPT = (Placement.Outcome.UNHEARD, Placement.Outcome.CONTINUES)
_LAST = dt.datetime.max.replace(tzinfo=dt.UTC)


@dataclass(frozen=True)
class Line:
    """One line of the record. A line about what was taken on carries its commitment and no words."""

    id: UUID
    placement_id: UUID | None
    kind: str
    author: str
    is_yours: bool
    words: str
    at: dt.datetime
    changed_at: dt.datetime | None
    removed_at: dt.datetime | None
    version: int
    taken_on: CommitmentView | None


@dataclass(frozen=True)
class Addition:
    """Something added to a record that was frozen already, with its own date."""

    id: UUID
    author: str
    is_yours: bool
    words: str
    at: dt.datetime
    removed_at: dt.datetime | None


@dataclass(frozen=True)
class TopicRecord:
    """A topic of the meeting, what became of it, and what was written at it."""

    topic: TopicCard
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Decided:
    """A decision, with the title of the topic it was written at; empty for one at none."""

    title: str
    line: Line


@dataclass(frozen=True)
class SeenBy:
    """A side, and when it marked the record as seen; None when it has not."""

    name: str
    is_you: bool
    at: dt.datetime | None


@dataclass(frozen=True)
class RecordView:
    """The record as ``reader`` sees it. ``without_page`` says that the two met without using the page."""

    head: Head
    discussed: tuple[TopicRecord, ...]
    kept: tuple[TopicCard, ...]
    general: tuple[Line, ...]
    decided: tuple[Decided, ...]
    made: tuple[CommitmentView, ...]
    additions: tuple[Addition, ...]
    seen: tuple[SeenBy, ...]
    margin: margin.Margin
    next_id: UUID | None
    can_be_written: bool
    can_be_added_to: bool
    without_page: bool
    you_said: bool | None
    they_said: bool | None
    today: dt.date

    @property
    def you_have_seen(self) -> bool:
        return any(side.is_you and side.at is not None for side in self.seen)


def can_be_written(meeting: Meeting, *, now: dt.datetime) -> bool:
    """Whether a closed meeting's record still takes lines: until its record instant, on an open line."""
    return meeting.line.is_open and meeting.state == Meeting.State.CLOSED and now < meeting.record_at


def of(reader: Person, meeting: Meeting, *, now: dt.datetime) -> RecordView:
    """The record of a closed meeting for ``reader``. The queries do not grow with topics or lines."""
    above = agenda_page.head(reader, meeting)
    placements = topic_cards.placements_of(meeting)
    notes = margin.beside(reader, meeting=meeting, topic_ids=[row.topic_id for row in placements])
    every = topic_cards.of(reader, above.line, placements, notes=notes)
    made = commitments.made_in(reader, meeting, now=now)
    lines = lines_of(reader, meeting, made=made)
    discussed = _discussed(every, lines)
    at_topics = {topic.topic.placement_id for topic in discussed}
    claims = {claim.side: claim.held for claim in meeting.claims.all()}
    writable = can_be_written(meeting, now=now)
    following = coming_selector.earliest(above.line) if above.line.is_open else None
    return RecordView(
        head=above,
        discussed=discussed,
        kept=tuple(
            sorted((card for card in every if card.outcome in _KEPT), key=lambda card: not card.is_must)
        ),
        general=tuple(line for line in lines if line.placement_id not in at_topics and line.taken_on is None),
        decided=_decided(every, lines),
        made=made,
        additions=_additions(reader, meeting),
        seen=_seen(above, meeting),
        margin=notes,
        next_id=following.pk if following else None,
        can_be_written=writable,
        can_be_added_to=above.line.is_open and not writable,
        without_page=meeting.ended_at is None,
        you_said=claims.get(above.side.value),
        they_said=claims.get(above.side.other.value),
        today=line_calendar.local_day(now, meeting.zone),
    )


def lines_of(reader: Person, meeting: Meeting, *, made: Sequence[CommitmentView]) -> tuple[Line, ...]:
    """The lines of a meeting in the order they were written, each with its commitment where it has one."""
    rows = list(RecordLine.objects.filter(meeting=meeting).select_related("author").order_by("at", "id"))
    taken = {one.id: one for one in made}
    return tuple(
        Line(
            id=row.pk,
            placement_id=row.placement_id,
            kind=row.kind,
            author=row.author.called,
            is_yours=row.author_id == reader.pk,
            words=row.words,
            at=row.at,
            changed_at=row.changed_at,
            removed_at=row.removed_at,
            version=row.version,
            taken_on=taken.get(row.commitment_id) if row.commitment_id else None,
        )
        for row in rows
    )


def _discussed(every: Sequence[TopicCard], lines: Sequence[Line]) -> tuple[TopicRecord, ...]:
    """Topics that were taken up, in the order in which that happened as far as it is known."""
    outcomes = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)
    written = {line.placement_id for line in lines}
    taken_up = [card for card in every if card.outcome in outcomes or card.placement_id in written]
    return tuple(
        TopicRecord(topic=card, lines=tuple(line for line in lines if line.placement_id == card.placement_id))
        for card in sorted(taken_up, key=lambda card: card.began_at or _LAST)
    )


def _decided(every: Sequence[TopicCard], lines: Sequence[Line]) -> tuple[Decided, ...]:
    titles = {card.placement_id: card.title for card in every}
    return tuple(
        Decided(title=titles.get(line.placement_id, ""), line=line)
        for line in lines
        if line.kind == RecordLine.Kind.DECIDED and line.removed_at is None
    )


def _additions(reader: Person, meeting: Meeting) -> tuple[Addition, ...]:
    rows = RecordAddition.objects.filter(meeting=meeting).select_related("author").order_by("at", "id")
    return tuple(
        Addition(
            id=row.pk,
            author=row.author.called,
            is_yours=row.author_id == reader.pk,
            words=row.words,
            at=row.at,
            removed_at=row.removed_at,
        )
        for row in rows
    )


def _seen(above: Head, meeting: Meeting) -> tuple[SeenBy, ...]:
    at = dict(Seen.objects.filter(meeting=meeting).values_list("side", "at"))
    return tuple(
        SeenBy(name=above.line.name_on(side), is_you=side is above.side, at=at.get(side.value))
        for side in Side
    )
