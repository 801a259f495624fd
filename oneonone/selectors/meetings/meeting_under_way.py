"""The page of a meeting under way, for one side: the current topic, the record so far, what is next."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from accounts.models import Person
from oneonone.models import Meeting, Placement
from oneonone.selectors.agenda import agenda_page, opening, order_view, topic_cards
from oneonone.selectors.agenda.agenda_page import Head, Waiting
from oneonone.selectors.agenda.opening import Told
from oneonone.selectors.agenda.order_view import Box, OrderView
from oneonone.selectors.agenda.topic_cards import TopicCard
from oneonone.selectors.commitments import commitments
from oneonone.selectors.commitments.commitments import CommitmentView
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.private import margin
from oneonone.selectors.record import record
from oneonone.selectors.record.record import Line

ARRIVING, AT_TOPIC, READING_BACK = "arriving", "topic", "reading back"


@dataclass(frozen=True)
class Live:
    """The page of a meeting under way.

    ``stage`` is "arriving" (before the first topic), "topic", or "reading back". ``until`` is the planned end
    of the stage. ``ahead`` are the topics not begun yet, those in the order first. ``kept`` are topics that
    were discussed and are kept for next time. ``here`` are the record lines of the current topic,
    ``elsewhere`` those of no topic.
    """

    head: Head
    order: OrderView
    stage: str
    current: Box | None
    topic: TopicCard | None
    until: dt.datetime
    over: bool
    ahead: tuple[TopicCard, ...]
    here: tuple[Line, ...]
    elsewhere: tuple[Line, ...]
    made: tuple[CommitmentView, ...]
    opening: tuple[Told, ...]
    offered: tuple[CommitmentView, ...]
    waiting: tuple[Waiting, ...]
    margin: margin.Margin
    today: dt.date
    may_be_taken_back: bool
    kept: tuple[TopicCard, ...]

    @property
    def not_reached(self) -> tuple[TopicCard, ...]:
        """The topics that were not begun, must-discuss topics first."""
        return tuple(sorted(self.ahead, key=lambda card: not card.is_must))

    @property
    def next(self) -> TopicCard | None:
        return self.ahead[0] if self.ahead else None


def of(reader: Person, meeting: Meeting, *, now: dt.datetime) -> Live:
    """The meeting under way for ``reader``, in a constant number of queries."""
    above = agenda_page.head(reader, meeting)
    view, notes = order_view.of(reader, meeting)
    stage = _stage(meeting, view)
    box = next((box for box in view.boxes if box.topic.placement_id == meeting.current_id), None)
    every = [*(box.topic for box in view.boxes), *(kept.topic for kept in view.kept), *view.late]
    current = next((card for card in every if card.placement_id == meeting.current_id), None)
    until = _until(above, view, stage, box)
    made = commitments.made_in(reader, meeting, now=now)
    lines = record.lines_of(reader, meeting, made=made)
    today = line_calendar.local_day(now, meeting.zone)
    return Live(
        head=above,
        order=view,
        stage=stage,
        current=box,
        topic=current if stage == AT_TOPIC else None,
        until=until,
        over=now > until,
        ahead=tuple(card for card in every if card.is_undecided and card is not current),
        here=tuple(line for line in lines if line.placement_id == meeting.current_id),
        elsewhere=tuple(line for line in lines if line.placement_id is None),
        made=made,
        opening=opening.of(reader, meeting, now=now) if stage == ARRIVING else (),
        offered=commitments.offered(reader, above.line, now=now),
        waiting=agenda_page.waiting(reader, meeting, every) if stage == ARRIVING else (),
        margin=notes,
        today=today,
        may_be_taken_back=may_be_taken_back(meeting),
        kept=_kept(reader, meeting, notes) if stage == READING_BACK else (),
    )


def _kept(reader: Person, meeting: Meeting, notes: margin.Margin) -> tuple[TopicCard, ...]:
    """Topics that were discussed here and are kept for next time, with or without a box."""
    rows = [row for row in topic_cards.placements_of(meeting) if row.outcome == Placement.Outcome.CONTINUES]
    return topic_cards.of(reader, meeting.line, rows, notes=notes) if rows else ()


def may_be_taken_back(meeting: Meeting) -> bool:
    """Whether the start may be undone: no record line is written, and no second topic has begun."""
    began = meeting.began_at
    if meeting.state != Meeting.State.UNDER_WAY or meeting.given_up_at is not None or began is None:
        return False
    if meeting.record_lines.exists():
        return False
    return meeting.placements.filter(began_at__gte=began).count() <= 1


def _stage(meeting: Meeting, view: OrderView) -> str:
    """Arriving lasts until the first topic has begun or the reading back was chosen."""
    if meeting.current_id is not None:
        return AT_TOPIC
    untouched = not any(box.topic.began for box in view.boxes)
    return ARRIVING if untouched and meeting.current_since == meeting.began_at else READING_BACK


def _until(above: Head, view: OrderView, stage: str, box: Box | None) -> dt.datetime:
    """The planned end of a stage. A topic without a box may last until the reading back."""
    if stage == READING_BACK:
        return above.ends_at
    if stage == ARRIVING:
        return above.meeting.minute_zero + dt.timedelta(minutes=view.opening)
    return box.ends_at if box is not None else above.ends_at - dt.timedelta(minutes=view.closing)
