"""An order as rows of the rail: opening, topics, free minutes between them, closing, each with its words."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from uuid import UUID
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone.models import Meeting
from oneonone.selectors.agenda.agenda_page import Head
from oneonone.selectors.agenda.order_view import Box, OrderView
from oneonone.selectors.agenda.topic_cards import TopicCard
from oneonone.selectors.private.margin import NOTHING, Note
from oneonone.templatetags.elements.rail import LONGEST_CLASS_MINUTES
from oneonone.web.agenda.wording import reason_wording, topic_wording
from oneonone.web.private.margin_forms import NoteForm

Mark = Callable[[Box], str]

NOBODY = str(UUID(int=0))

MINUTE_REM = 0.8
"""The height of a minute on a wide screen, in root em; see ``rail.css``."""
SHORTEST_BOX_REM = 1.75
"""The least height of a box: its title in one line. A meeting with a shorter topic has a larger scale."""
NOTE_LINE_REM = 1.5
DETAIL_MINUTES = 8
MOST_NOTE_LINES = 24


@dataclass(frozen=True)
class Row:
    """One stretch of the rail, from ``at`` minutes after the start. ``kind``: "opening", "topic", "free" or
    "closing".

    ``clock`` and ``machine`` say when it begins, for people and for programs, and ``length`` is "13 min".
    ``change`` says what is different at the topic, ``mark`` the same in a word. ``now_at`` are the minutes of
    it that are over, on the row where the clock stands while the meeting runs. ``note`` is the reader's, and
    ``note_lines`` how many lines of it have room down to the next note. The addresses are those of a topic's
    own page, of the note at it and of the unclear mark.
    """

    kind: str
    starts_at: dt.datetime
    minutes: int
    at: int = 0
    box: Box | None = None
    about: str = ""
    reason: str = ""
    whose: str = ""
    beside: str = ""
    change: str = ""
    mark: str = ""
    became: str = ""
    now_at: int | None = None
    note: Note = NOTHING
    note_lines: int = 0
    clock: str = ""
    machine: str = ""
    length: str = ""
    href: str = ""
    note_href: str = ""
    unclear_href: str = ""

    @property
    def has_room_for_detail(self) -> bool:
        """Whether its box is ever tall enough for more than a title and a line on a wide screen."""
        return self.minutes >= DETAIL_MINUTES

    @property
    def height(self) -> int:
        """Its minutes, as far as ``rail-minutes.css`` has classes for them."""
        return max(1, min(self.minutes, LONGEST_CLASS_MINUTES))

    @property
    def offset(self) -> int:
        """Where it begins, as far as there are classes."""
        return min(self.at, LONGEST_CLASS_MINUTES)

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


def since_read(box: Box) -> str:
    """What is different at a topic since the reader last marked an order as read."""
    return topic_wording.change(box.change)


@functools.cache
def addresses() -> dict[str, str]:
    """Addresses of a topic with ``NOBODY`` for its id: looking each up anew is a tenth of the whole page."""
    return {
        "placement": reverse("placement", kwargs={"placement_id": NOBODY}),
        "margin-write": reverse("margin-write", kwargs={"topic_id": NOBODY}),
        "margin-unclear": reverse("margin-unclear", kwargs={"topic_id": NOBODY}),
    }


def rows(
    head: Head,
    order: OrderView,
    *,
    now: dt.datetime | None = None,
    mark: Mark = since_read,
    note: Note = NOTHING,
) -> tuple[Row, ...]:
    """The rail from the start of the meeting to its end. ``now`` only while it runs.

    ``mark`` says what is different at a topic, and since when; ``note`` is the reader's at the whole meeting.
    """
    zone, clock = ZoneInfo(head.meeting.zone), reason_wording.clock_of(head.meeting)
    found = tuple(
        replace(
            _clocked(row, now),
            clock=clock(row.at),
            machine=row.starts_at.astimezone(zone).isoformat(timespec="minutes"),
            length=_("%(n)d min") % {"n": row.minutes},
        )
        for row in _rows(head, order, mark, note)
    )
    return _with_room_for_notes(found, shortest(order))


def shortest(order: OrderView) -> int:
    """The minutes of the shortest topic, which set the scale of the whole rail."""
    return min((box.minutes for box in order.boxes), default=5)


def _rows(head: Head, order: OrderView, mark: Mark, note: Note) -> Iterator[Row]:
    meeting, clock = head.meeting, reason_wording.clock_of(head.meeting)
    yield Row("opening", meeting.minute_zero, order.opening, note=note)
    at, end = order.opening, meeting.minutes - order.closing
    for box in order.boxes:
        if box.minute > at:
            yield Row("free", _moment(meeting, at), box.minute - at, at)
        yield topic_row(head, box, clock, mark)
        at = max(at, box.minute + box.minutes)
    if end > at:
        yield Row("free", _moment(meeting, at), end - at, at)
    yield Row("closing", _moment(meeting, end), order.closing, end)


def _with_room_for_notes(found: tuple[Row, ...], least: int) -> tuple[Row, ...]:
    """How much of each note can be shown: a note may run on beside the slots below it, to the next note."""
    minute, minutes, laid = max(MINUTE_REM, SHORTEST_BOX_REM / least), 0, []
    for row in reversed(found):
        minutes += row.minutes
        if row.note:
            lines = int(minutes * minute / NOTE_LINE_REM) - row.note.unclear
            row, minutes = replace(row, note_lines=max(1, min(lines, MOST_NOTE_LINES))), 0
        laid.append(row)
    return tuple(reversed(laid))


def topic_row(head: Head, box: Box, clock: reason_wording.Clock, mark: Mark = since_read) -> Row:
    """A topic in its box, with the reason in a line."""
    topic = box.topic
    moved = topic_wording.moved_by_hand(box.trace, clock(box.minute), clock)
    places = addresses()
    return Row(
        kind="topic",
        href=places["placement"].replace(NOBODY, str(topic.placement_id)),
        note_href=places["margin-write"].replace(NOBODY, str(topic.topic_id)),
        unclear_href=places["margin-unclear"].replace(NOBODY, str(topic.topic_id)),
        starts_at=box.starts_at,
        minutes=box.minutes,
        at=box.minute,
        box=box,
        about=_about(topic, head.other),
        reason=reason_wording.in_short(box.place, box.length, clock),
        whose=topic_wording.whose(topic, head.other),
        beside=topic_wording.beside(topic, head.other),
        change=_changed(box, moved, mark),
        mark=topic_wording.change_in_a_word(box.change, moved),
        became=topic_wording.became(topic),
        note=topic.note,
    )


def account(head: Head, box: Box) -> tuple[str, ...]:
    """The answer to "Why here?"."""
    return tuple(reason_wording.why_here(box.place, box.length, reason_wording.clock_of(head.meeting)))


def _changed(box: Box, moved: str, mark: Mark) -> str:
    """A move by hand is said instead of "moved", and beside other minutes."""
    said = "" if moved and box.change is not None and box.change.kind == "moved" else mark(box)
    return " ".join(one for one in (moved, said) if one)


def _about(topic: TopicCard, other: str) -> str:
    return f"{topic_wording.about(topic)} {topic_wording.own_level(topic, other)}".strip()


def kept_rows(head: Head, order: OrderView) -> tuple[KeptRow, ...]:
    """What has no place in this order, each with its reason."""
    clock = reason_wording.clock_of(head.meeting)
    return tuple(
        without_place(head, kept.topic, reason_wording.sentence(kept.why, clock)) for kept in order.kept
    )


def without_place(head: Head, topic: TopicCard, reason: str = "") -> KeptRow:
    """A topic beside the order, with its words."""
    return KeptRow(
        topic=topic,
        about=_about(topic, head.other),
        whose=topic_wording.whose(topic, head.other),
        said=topic_wording.others_level(topic, head.other),
        reason=reason,
    )


def note_form(note: Note, anchor: object) -> NoteForm:
    """The form of a margin note, as it was read."""
    initial = {"words": note.words, "unclear": note.unclear, "revision": note.revision}
    return NoteForm(initial=initial, auto_id=f"note-{anchor}-%s")


def _moment(meeting: Meeting, minute: int) -> dt.datetime:
    return meeting.minute_zero + dt.timedelta(minutes=minute)


def _clocked(row: Row, now: dt.datetime | None) -> Row:
    """The row with the minutes of it that are over, if the clock stands in it."""
    ends = row.starts_at + dt.timedelta(minutes=row.minutes)
    if now is None or not row.starts_at <= now < ends:
        return row
    over = int((now - row.starts_at).total_seconds() // 60)
    return replace(row, now_at=over)
