"""The reader's own logbook: opened with their own key, newest event first, with what became of each entry."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from uuid import UUID

from accounts.models import Person
from oneonone.models import Line, LogbookEntry, Meeting, Placement, Topic
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys
from oneonone.selectors.private.logbook_entry import Bringing, EntryContent, from_payload
from oneonone.selectors.private.note_search import fold

# A period is called one-sided when more than this share of its entries is from its last quarter
# (recency: reference, section 1 H; the threshold is common practice, no source).
RECENT_SHARE = 0.5
FEWEST_FOR_RECENCY = 4


@dataclass(frozen=True)
class Fate:
    """What became of an entry that was brought: the topic, and the meeting that it is or was last placed in.

    ``state`` is ``placed`` (undecided on a coming agenda), ``parked``, ``discussed``, ``kept`` (not
    reached and without a meeting now), ``withdrawn`` or ``left`` (the author left it for that meeting).
    """

    state: str
    topic: Topic | None = None
    meeting: Meeting | None = None
    placement_id: UUID | None = None

    @property
    def can_be_taken_back(self) -> bool:
        """Until the order is issued; afterwards the agenda's own ways hold."""
        planned = self.meeting is not None and self.meeting.state == Meeting.State.PLANNED
        return self.state == "parked" or (self.state == "placed" and planned)


@dataclass(frozen=True)
class Entry:
    """One entry of the reader's. ``content`` is None when it cannot be opened on this server."""

    id: UUID
    revision: int
    created_on: dt.date
    content: EntryContent | None = field(repr=False)
    fate: Fate | None = None

    @property
    def event_on(self) -> dt.date:
        return self.content.event_on if self.content is not None else self.created_on

    @property
    def is_brought(self) -> bool:
        """Whether it is or was on an agenda, unless that was taken back."""
        return self.fate is not None and self.fate.state not in ("withdrawn", "left")


def entries(reader: Person, *, created_from: dt.date | None = None) -> list[Entry]:
    """The reader's entries, newest event first, without their fates. Two queries.

    ``created_from`` leaves out entries made before that day without opening them.
    """
    rows = LogbookEntry.objects.of(reader)
    if created_from is not None:
        rows = rows.filter(created_on__gte=created_from)
    opener = keys.Opener(reader)
    found = [_entry(opener, row) for row in rows.order_by("-created_on", "-id")]
    return sorted(found, key=lambda entry: (entry.event_on, entry.created_on), reverse=True)


def entry(reader: Person, entry_id: UUID) -> Entry | None:
    """One entry of the reader's with its fate, None when there is no such one of theirs."""
    row = LogbookEntry.objects.of(reader).filter(pk=entry_id).first()
    if row is None:
        return None
    return with_fates(reader, [_entry(keys.Opener(reader), row)])[0]


def _entry(opener: keys.Opener, row: LogbookEntry) -> Entry:
    try:
        content = from_payload(opener.open(row), created_on=row.created_on)
    except CannotOpen:
        content = None
    return Entry(id=row.pk, revision=row.revision, created_on=row.created_on, content=content)


def with_fates(reader: Person, found: Sequence[Entry]) -> list[Entry]:
    """The entries with what became of those that were brought. Two queries, whatever their number."""
    last = {
        one.id: one.content.brought[-1] for one in found if one.content is not None and one.content.brought
    }
    topic_ids = [bringing.topic_id for bringing in last.values() if bringing.topic_id is not None]
    topics = Topic.objects.visible_to(reader).in_bulk(topic_ids) if topic_ids else {}
    placements = _latest_placements(reader, topics)
    return [
        replace(one, fate=_fate(last[one.id], topics, placements)) if one.id in last else one for one in found
    ]


def _latest_placements(reader: Person, topics: Iterable[UUID]) -> dict[UUID, Placement]:
    wanted = list(topics)
    if not wanted:
        return {}
    rows = (
        Placement.objects.filter(topic__in=wanted, meeting__in=Meeting.objects.visible_to(reader))
        .select_related("meeting__line")
        .order_by("meeting__starts_at", "added_at")
    )
    return {row.topic_id: row for row in rows}


def _fate(last: Bringing, topics: Mapping[UUID, Topic], placements: Mapping[UUID, Placement]) -> Fate | None:
    if last.topic_id is None:
        return Fate("left")
    topic, placement = topics.get(last.topic_id), placements.get(last.topic_id)
    if topic is None:
        return None  # The line has ended, and with it what the reader may see of it.
    meeting = placement.meeting if placement is not None else None
    placement_id = placement.pk if placement is not None else None
    return Fate(_state(topic, placement), topic=topic, meeting=meeting, placement_id=placement_id)


def _state(topic: Topic, placement: Placement | None) -> str:
    if topic.state == Topic.State.WITHDRAWN:
        return "withdrawn"
    if placement is not None and placement.outcome in (
        Placement.Outcome.DISCUSSED,
        Placement.Outcome.CONTINUES,
    ):
        return "discussed"
    if topic.state == Topic.State.PARKED:
        return "parked"
    if placement is not None and placement.outcome == Placement.Outcome.UNDECIDED:
        return "placed"
    return "kept"


def open_lines(reader: Person) -> list[Line]:
    """The open lines that both can see, the one on which the reader reports first."""
    rows = (
        Line.objects.visible_to(reader)
        .filter(ended_at__isnull=True)
        .exclude(start=Line.Start.ALONE)
        .select_related("manager", "report", "invitation")
        .order_by("created_at", "id")
    )
    return sorted(rows, key=lambda line: line.report_id != reader.pk)


def main_line(reader: Person) -> Line | None:
    """The line a person prepares most for: the one on which they report, else the oldest they manage."""
    return next(iter(open_lines(reader)), None)


@dataclass(frozen=True)
class Filter:
    """Which entries are wanted; an empty field asks for nothing. ``month`` is the first day of a month."""

    kind: str = ""
    month: dt.date | None = None
    words: str = ""
    not_brought: bool = False

    def __bool__(self) -> bool:
        return bool(self.kind or self.month or self.words or self.not_brought)


def matching(found: Iterable[Entry], wanted: Filter) -> list[Entry]:
    """Those of the entries, with fates, that fit. Words are compared without case and accents."""
    words = [fold(word) for word in wanted.words.split()]
    return [one for one in found if _fits(one, wanted, words)]


def _fits(one: Entry, wanted: Filter, words: Sequence[str]) -> bool:
    if one.content is None:
        return not wanted
    if wanted.kind and one.content.kind != wanted.kind:
        return False
    if wanted.month is not None and one.event_on.replace(day=1) != wanted.month:
        return False
    if wanted.not_brought and one.is_brought:
        return False
    if not words:
        return True
    text = fold(" ".join((one.content.line, *one.content.details.values())))
    return all(word in text for word in words)


@dataclass(frozen=True)
class Month:
    """A month of the year at a glance, with how many achievements fell into it."""

    first: dt.date
    count: int


@dataclass(frozen=True)
class Year:
    """Twelve months up to this one. ``one_sided`` says that most achievements are from the last quarter.

    ``total`` counts the achievements of the twelve months; ``recent`` those since ``recent_from``.
    """

    months: tuple[Month, ...]
    total: int
    recent: int
    recent_from: dt.date

    @property
    def one_sided(self) -> bool:
        return self.total >= FEWEST_FOR_RECENCY and self.recent > self.total * RECENT_SHARE


def year(found: Iterable[Entry], *, today: dt.date) -> Year:
    """The reader's achievements of the twelve months to today, by month of the event."""
    firsts = [_months_before(today, back) for back in range(11, -1, -1)]
    counts = Counter(
        one.event_on.replace(day=1)
        for one in found
        if one.content is not None and one.content.kind == LogbookEntry.Kind.ACHIEVEMENT
    )
    months = tuple(Month(first, counts[first]) for first in firsts)
    return Year(
        months=months,
        total=sum(month.count for month in months),
        recent=sum(month.count for month in months[-3:]),
        recent_from=firsts[-3],
    )


def _months_before(day: dt.date, back: int) -> dt.date:
    index = day.year * 12 + day.month - 1 - back
    return dt.date(index // 12, index % 12 + 1, 1)
