"""An order as rows of the rail: opening, topics, free minutes between them, closing, each with its words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from django.utils.translation import gettext as _

from oneonone.models import Meeting
from oneonone.selectors.agenda import Head
from oneonone.selectors.cards import TopicCard
from oneonone.selectors.margin import Note
from oneonone.selectors.order import Box, OrderView
from oneonone.web import reasons, topicwords
from oneonone.web.forms.margin import NoteForm
from oneonone.web.forms.topics import ImportanceForm

Mark = Callable[[Box], str]


@dataclass(frozen=True)
class TopicForms:
    """The forms that stand at one topic, with ids of their own."""

    note: NoteForm
    importance: ImportanceForm


@dataclass(frozen=True)
class Row:
    """One stretch of the rail. ``kind``: "opening", "topic", "free", "closing".

    ``now_at`` are the minutes of it that are over, on the row where the clock stands while the meeting runs.
    """

    kind: str
    starts_at: dt.datetime
    minutes: int
    box: Box | None = None
    about: str = ""
    reason: str = ""
    account: tuple[str, ...] = ()
    whose: str = ""
    beside: str = ""
    change: str = ""
    became: str = ""
    now_at: int | None = None

    @cached_property
    def forms(self) -> TopicForms | None:
        """The forms at its topic, made when they are asked for: not every rail shows them."""
        return forms_at(self.box.topic) if self.box else None

    @property
    def anchor(self) -> str:
        """What the row is called in an address, as text: templates join it."""
        return str(self.box.topic.topic_id) if self.box else ""

    @property
    def state(self) -> str:
        """How the box is drawn: "done" once the topic was discussed."""
        return "done" if self.became else ""


@dataclass(frozen=True)
class KeptRow:
    """A topic without a place: whose, what each side says of it, and why it has none."""

    topic: TopicCard
    about: str
    whose: str
    said: str
    reason: str

    @cached_property
    def forms(self) -> TopicForms:
        """The forms at its topic."""
        return forms_at(self.topic)


def since_read(box: Box) -> str:
    """What is different at a topic since the reader last marked an order as read."""
    return topicwords.change(box.change)


def rows(
    head: Head, order: OrderView, *, now: dt.datetime | None = None, mark: Mark = since_read
) -> tuple[Row, ...]:
    """The rail from the start of the meeting to its end. ``now`` only while it runs.

    ``mark`` says what is different at a topic, and since when.
    """
    return tuple(_clocked(row, now) for row in _rows(head, order, mark))


def _rows(head: Head, order: OrderView, mark: Mark) -> Iterator[Row]:
    meeting, clock = head.meeting, reasons.clock_of(head.meeting)
    yield Row("opening", meeting.minute_zero, order.opening)
    at, end = order.opening, meeting.minutes - order.closing
    for box in order.boxes:
        if box.minute > at:
            yield Row("free", _moment(meeting, at), box.minute - at)
        yield topic_row(head, box, clock, mark)
        at = max(at, box.minute + box.minutes)
    if end > at:
        yield Row("free", _moment(meeting, at), end - at)
    yield Row("closing", _moment(meeting, end), order.closing)


def topic_row(head: Head, box: Box, clock: reasons.Clock, mark: Mark = since_read) -> Row:
    """A topic in its box, with the reason in a line and the full account behind it."""
    topic = box.topic
    place, length = reasons.sentence(box.place, clock), reasons.sentence(box.length, clock)
    return Row(
        kind="topic",
        starts_at=box.starts_at,
        minutes=box.minutes,
        box=box,
        about=_about(topic, head.other),
        reason=reasons.in_short(box.place if box.length.code == "full" else box.length, clock),
        account=(place, length, *_weights(topic.yours, topic.theirs, head.other)),
        whose=topicwords.whose(topic, head.other),
        beside=topicwords.beside(topic, head.other),
        change=mark(box),
        became=topicwords.became(topic),
    )


def _about(topic: TopicCard, other: str) -> str:
    return f"{topicwords.about(topic)} {topicwords.own_level(topic, other)}".strip()


def _weights(yours: str, theirs: str, other: str) -> tuple[str, ...]:
    said = _("How much it matters: to you %(yours)s, to %(other)s %(theirs)s.") % {
        "yours": topicwords.level(yours),
        "theirs": topicwords.level(theirs),
        "other": other,
    }
    return (said, _("Both sides’ words weigh the same. Topics that were not reached before weigh more."))


def kept_rows(head: Head, order: OrderView) -> tuple[KeptRow, ...]:
    """What has no place in this order, each with its reason."""
    clock = reasons.clock_of(head.meeting)
    return tuple(without_place(head, kept.topic, reasons.sentence(kept.why, clock)) for kept in order.kept)


def without_place(head: Head, topic: TopicCard, reason: str = "") -> KeptRow:
    """A topic beside the order, with its words."""
    return KeptRow(
        topic=topic,
        about=_about(topic, head.other),
        whose=topicwords.whose(topic, head.other),
        said=topicwords.others_level(topic, head.other),
        reason=reason,
    )


def note_form(note: Note, anchor: object) -> NoteForm:
    """The form of a margin note, as it was read."""
    initial = {"words": note.words, "unclear": note.unclear, "revision": note.revision}
    return NoteForm(initial=initial, auto_id=f"note-{anchor}-%s")


def forms_at(topic: TopicCard) -> TopicForms:
    """The forms at one topic, filled with what holds now."""
    return TopicForms(
        note=note_form(topic.note, topic.topic_id),
        importance=ImportanceForm(
            initial={"importance": topic.yours}, auto_id=f"importance-{topic.topic_id}-%s"
        ),
    )


def _moment(meeting: Meeting, minute: int) -> dt.datetime:
    return meeting.minute_zero + dt.timedelta(minutes=minute)


def _clocked(row: Row, now: dt.datetime | None) -> Row:
    """The row with the minutes of it that are over, if the clock stands in it."""
    ends = row.starts_at + dt.timedelta(minutes=row.minutes)
    if now is None or not row.starts_at <= now < ends:
        return row
    over = int((now - row.starts_at).total_seconds() // 60)
    return replace(row, now_at=over)
