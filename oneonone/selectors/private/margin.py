"""The reader's own margin: their notes and unclear marks, opened with their own key."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Q

from accounts.models import Person
from oneonone.models import MarginNote, Meeting, Topic
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys


@dataclass(frozen=True)
class Note:
    """One note of the reader's. ``revision`` is 0 where nothing is written yet.

    A note that cannot be opened is said to be there, and is never written over. The words are left out of its
    ``repr``: the framework's template engine logs whole contexts when a variable is missing.
    """

    words: str = field(default="", repr=False)
    unclear: bool = False
    revision: int = 0
    cannot_be_opened: bool = False

    def __bool__(self) -> bool:
        return bool(self.words or self.unclear or self.cannot_be_opened)


NOTHING = Note()


@dataclass(frozen=True)
class Margin:
    """What the reader has beside one agenda: a note at the meeting, and notes at its topics."""

    meeting: Note = NOTHING
    topics: Mapping[UUID, Note] = field(default_factory=dict)

    def at(self, topic_id: UUID) -> Note:
        return self.topics.get(topic_id, NOTHING)


def beside(reader: Person, *, meeting: Meeting, topic_ids: Collection[UUID]) -> Margin:
    """The reader's margin at a meeting and at these topics, in two queries whatever their number."""
    rows = MarginNote.objects.of(reader).filter(Q(meeting=meeting) | Q(topic__in=list(topic_ids)))
    opener = keys.Opener(reader)
    at_meeting, topics = NOTHING, {}
    for row in rows:
        note = _opened(opener, row)
        if row.topic_id is None:
            at_meeting = note
        else:
            topics[row.topic_id] = note
    return Margin(meeting=at_meeting, topics=topics)


def at_topic(reader: Person, topic: Topic) -> Note:
    """The reader's note at one topic."""
    return _one(reader, MarginNote.objects.of(reader).filter(topic=topic).first())


def at_meeting(reader: Person, meeting: Meeting) -> Note:
    """The reader's note at one meeting."""
    return _one(reader, MarginNote.objects.of(reader).filter(meeting=meeting).first())


def _one(reader: Person, row: MarginNote | None) -> Note:
    return NOTHING if row is None else _opened(keys.Opener(reader), row)


def _opened(opener: keys.Opener, row: MarginNote) -> Note:
    try:
        payload = opener.open(row)
    except CannotOpen:
        return Note(revision=row.revision, cannot_be_opened=True)
    return Note(
        words=str(payload.get("words", "")),
        unclear=bool(payload.get("unclear")),
        revision=row.revision,
    )
