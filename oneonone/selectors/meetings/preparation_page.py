"""Preparing for one meeting: five steps in the order of the work, and the minutes that they take.

Only the reader sees it. Nothing of it is told to the other side.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

from accounts.models import Person
from oneonone.models import Meeting
from oneonone.selectors.agenda import agenda_page
from oneonone.selectors.agenda.agenda_page import Agenda
from oneonone.selectors.agenda.topic_cards import TopicCard
from oneonone.selectors.commitments import commitments
from oneonone.selectors.commitments.commitments import CommitmentView
from oneonone.selectors.dates import coming_meetings
from oneonone.selectors.private import logbook, preparation
from oneonone.selectors.private.logbook import Entry

# Silent reading of English non-fiction: 238 words a minute, most adults 175 to 300 (Brysbaert 2019).
# It measures texts and is never used about a person.
WORDS_A_MINUTE, SLOW, FAST = 238, 175, 300
# What the other steps take, in minutes: common practice, no source.
A_COMMITMENT, AN_ENTRY, A_TOPIC_LOOKED_AT, NOTES = 1.0, 0.5, 0.25, 2.0
UNCLEAR, NOTES_STEP = "unclear", "notes"


@dataclass(frozen=True)
class Reading:
    """How long the order takes to read: whole minutes, from fast to slow readers."""

    words: int

    @property
    def minutes(self) -> int:
        return max(1, math.ceil(self.words / WORDS_A_MINUTE))

    @property
    def fastest(self) -> int:
        return max(1, math.ceil(self.words / FAST))

    @property
    def slowest(self) -> int:
        return max(1, math.ceil(self.words / SLOW))


@dataclass(frozen=True)
class OwnCommitment:
    """One commitment of the reader's, and whether they have said in this preparation how it went."""

    view: CommitmentView
    is_said: bool


@dataclass(frozen=True)
class Page:
    """The page. ``minutes`` is the estimate for everything, ``left`` for what is still to do."""

    agenda: Agenda
    reading: Reading
    is_read: bool
    commitments: tuple[OwnCommitment, ...]
    entries: tuple[Entry, ...] = field(repr=False)
    decided: int
    topics: tuple[TopicCard, ...]
    unclear_done: bool
    notes_done: bool
    minutes: int
    left: int

    @property
    def commitments_left(self) -> int:
        return sum(not one.is_said for one in self.commitments)

    @property
    def unclear(self) -> tuple[TopicCard, ...]:
        return tuple(topic for topic in self.topics if topic.note.unclear)

    @property
    def noted(self) -> tuple[TopicCard, ...]:
        return tuple(topic for topic in self.topics if topic.note.words)

    @property
    def without_note(self) -> tuple[TopicCard, ...]:
        return tuple(topic for topic in self.topics if not topic.note.words)

    @property
    def steps_left(self) -> int:
        """How many of the five steps are still open."""
        return sum(
            (
                not self.is_read,
                self.commitments_left > 0,
                bool(self.entries),
                not self.unclear_done,
                not self.notes_done,
            )
        )


def page(reader: Person, meeting: Meeting, *, now: dt.datetime) -> Page:
    """What the reader has to do before this meeting, and what is done. Queries do not grow with the rows."""
    agenda = agenda_page.of(reader, meeting, now=now)
    ticks = preparation.ticks(reader, meeting)
    topics = tuple(box.topic for box in agenda.order.boxes) + tuple(kept.topic for kept in agenda.order.kept)
    own = _commitments(reader, meeting, ticks, now)
    entries, decided = _entries(reader, meeting)
    reading = Reading(sum(len(f"{topic.title} {topic.detail}".split()) for topic in topics))
    is_read = agenda.order.is_read if not agenda.order.is_preview else "order" in ticks.steps
    unclear_done, notes_done = UNCLEAR in ticks.steps, NOTES_STEP in ticks.steps
    looking = len(topics) * A_TOPIC_LOOKED_AT
    everything = (
        reading.minutes + len(own) * A_COMMITMENT + (len(entries) + decided) * AN_ENTRY + looking + NOTES
    )
    left = (
        (0 if is_read else reading.minutes)
        + sum(not one.is_said for one in own) * A_COMMITMENT
        + len(entries) * AN_ENTRY
        + (0 if unclear_done else looking)
        + (0 if notes_done else NOTES)
    )
    return Page(
        agenda=agenda,
        reading=reading,
        is_read=is_read,
        commitments=own,
        entries=tuple(entries),
        decided=decided,
        topics=topics,
        unclear_done=unclear_done,
        notes_done=notes_done,
        minutes=math.ceil(everything),
        left=math.ceil(left),
    )


def _commitments(
    reader: Person, meeting: Meeting, ticks: preparation.Ticks, now: dt.datetime
) -> tuple[OwnCommitment, ...]:
    """The reader's open commitments on the line, and those that they settled while preparing."""
    open_ones = [one for one in commitments.mine(reader, now=now) if not one.is_offered]
    settled = ticks.commitments - {one.id for one in open_ones}
    views = [*open_ones, *(commitments.these(reader, settled, now=now) if settled else ())]
    return tuple(
        OwnCommitment(view, view.id in ticks.commitments)
        for view in views
        if view.line_id == meeting.line_id and view.is_mine
    )


def _entries(reader: Person, meeting: Meeting) -> tuple[list[Entry], int]:
    """Entries since the last held meeting that are neither brought nor left, and how many are decided.

    Entries made before that meeting and never brought stay in the logbook and are not asked about.
    """
    last = coming_meetings.last_held(meeting.line, before=meeting)
    since = last.held_on if last is not None else None
    found = logbook.with_fates(reader, logbook.entries(reader, created_from=since))
    waiting, decided = [], 0
    for entry in found:
        if entry.content is None:
            continue
        is_left = any(one.meeting_id == meeting.pk for one in entry.content.brought)
        if entry.is_brought or is_left:
            decided += is_left
        else:
            waiting.append(entry)
    return waiting, decided
