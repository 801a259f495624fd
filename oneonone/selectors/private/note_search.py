"""Search of a person's own private notes, which are opened with their own key.

There is no index, because it would be a second copy of private text. The newest notes, up to a limit, are
opened one after another, and nothing of a search is stored.
"""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from accounts.models import Person
from oneonone.models import Line, LogbookEntry, MarginNote, Meeting, Placement, Sealed, Topic
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys

MOST_READ = 2000
MOST_SHOWN = 50
AT_ONCE = 200
AROUND = 70
FIRST_MARK = "\u0300"
KINDS: tuple[type[Sealed], ...] = (MarginNote, LogbookEntry)


@dataclass(frozen=True)
class Snippet:
    """The first match in a note with the text around it."""

    before: str = field(repr=False)
    hit: str = field(repr=False)
    after: str = field(repr=False)


@dataclass(frozen=True)
class Found:
    """A note of the reader's with what was looked for in it.

    ``title`` is the topic's, where the reader may still read that, ``other`` the line's other side.
    ``meeting_id`` is the page that the note stands on; a note whose topic is on none, and whose line is open,
    has its own page (``has_own_page``). Otherwise no page of it is left to the reader, and ``words`` is all
    there is.
    """

    kind: str
    on: dt.date
    snippet: Snippet
    words: str = field(repr=False)
    title: str = field(default="", repr=False)
    other: str = ""
    topic_id: UUID | None = None
    meeting_id: UUID | None = None
    starts_at: dt.datetime | None = None
    zone: str = ""
    is_record: bool = False
    has_own_page: bool = False


@dataclass(frozen=True)
class Search:
    """What was found, newest first. ``read`` notes were looked through; ``older`` says that others were not.

    ``cut`` says that the search ended at the most notes that are shown; ``unopened`` notes cannot be opened.
    """

    found: tuple[Found, ...]
    read: int
    older: bool
    cut: bool
    unopened: int


def fold(text: str) -> str:
    """Return the text without case, accents, width and ligatures.

    A compatibility caseless match (Unicode Standard, 3.13, D146), and marks that do not stand alone left out.
    """
    if text.isascii():
        return text.lower()
    decomposed = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", text).casefold())
    return "".join(
        character
        for character in decomposed
        if character < FIRST_MARK or unicodedata.category(character) != "Mn"
    )


def search(reader: Person, words: Sequence[str], *, plain: Callable[[str], str] = str) -> Search:
    """The reader's newest notes in which each of these words stands, in any spelling and any order.

    Without words, or with marks only, nothing is found or opened. ``plain`` converts a note to the text of
    snippets.
    """
    wanted = [folded for word in words if (folded := fold(word))]
    newest = _newest(reader) if wanted else []
    hits: list[tuple[Sealed, str]] = []
    read = unopened = 0
    opener = keys.Opener(reader)
    for row in _rows(reader, newest[:MOST_READ]):
        read += 1
        try:
            said = str(opener.open(row).get("words", ""))
        except CannotOpen:
            unopened += 1
            continue
        folded = fold(said)
        if all(word in folded for word in wanted):
            hits.append((row, said))
        if len(hits) > MOST_SHOWN:
            break
    cut = len(hits) > MOST_SHOWN
    return Search(
        found=_placed(reader, hits[:MOST_SHOWN], wanted, plain),
        read=read,
        older=len(newest) > MOST_READ,
        cut=cut,
        unopened=unopened,
    )


def _newest(reader: Person) -> list[tuple[dt.date, UUID, type[Sealed]]]:
    """The reader's newest notes of all kinds, one more than are read."""
    found = [
        (day, pk, kind)
        for kind in KINDS
        for day, pk in kind.objects.of(reader)
        .order_by("-changed_on", "-id")
        .values_list("changed_on", "pk")[: MOST_READ + 1]
    ]
    return sorted(found, key=lambda note: note[:2], reverse=True)[: MOST_READ + 1]


def _rows(reader: Person, newest: Sequence[tuple[dt.date, UUID, type[Sealed]]]) -> Iterator[Sealed]:
    """The rows in this order, never more of them in memory than ``AT_ONCE``."""
    for start in range(0, len(newest), AT_ONCE):
        some = newest[start : start + AT_ONCE]
        rows: dict[UUID, Sealed] = {}
        for kind in {kind for _day, _pk, kind in some}:
            rows |= kind.objects.of(reader).in_bulk([pk for _day, pk, of in some if of is kind])
        yield from (rows[pk] for _day, pk, _kind in some if pk in rows)


@dataclass(frozen=True)
class _Places:
    """Where the notes stand, as far as the reader may still look there."""

    topics: dict[UUID, Topic]
    lines: dict[UUID, Line]
    latest: dict[UUID, Meeting]
    meetings: dict[UUID, Meeting]


def _placed(
    reader: Person,
    hits: Sequence[tuple[Sealed, str]],
    wanted: Sequence[str],
    plain: Callable[[str], str],
) -> tuple[Found, ...]:
    notes = [row for row, _said in hits if isinstance(row, MarginNote)]
    places = _places(reader, notes) if notes else _Places({}, {}, {}, {})
    return tuple(
        _found(reader, row, said, _snippet_of(said, plain(said), wanted[0]), places) for row, said in hits
    )


def _places(reader: Person, notes: Sequence[MarginNote]) -> _Places:
    topics = Topic.objects.filter(pk__in=[note.topic_id for note in notes if note.topic_id])
    of_topics = topics.select_related("line__manager", "line__report").in_bulk()
    readable = Meeting.objects.visible_to(reader)
    placed = (
        Placement.objects.filter(topic__in=of_topics, meeting__in=readable)
        .exclude(outcome=Placement.Outcome.WITHDRAWN)
        .select_related("meeting")
    )
    of_meetings = (
        Meeting.objects.filter(pk__in=[note.meeting_id for note in notes if note.meeting_id])
        .select_related("line__manager", "line__report")
        .in_bulk()
    )
    seen = set(readable.filter(pk__in=of_meetings).values_list("pk", flat=True))
    return _Places(
        topics=of_topics,
        lines={pk: row.line for pk, row in (of_topics | of_meetings).items()},
        latest={row.topic_id: row.meeting for row in placed.order_by("meeting__starts_at", "added_at")},
        meetings={pk: row for pk, row in of_meetings.items() if pk in seen},
    )


def _found(reader: Person, row: Sealed, said: str, snippet: Snippet, places: _Places) -> Found:
    if not isinstance(row, MarginNote):
        return Found(kind="logbook", on=row.changed_on, snippet=snippet, words=said)
    at: UUID = row.topic_id or row.meeting_id  # type: ignore[assignment]  # one of them, by constraint
    line = places.lines[at]
    side = line.side_of(reader)
    topic = places.topics.get(at)
    meeting = (places.latest if row.topic_id else places.meetings).get(at)
    has_own_page = meeting is None and topic is not None and line.is_open
    return Found(
        kind="topic" if row.topic_id else "meeting",
        on=row.changed_on,
        snippet=snippet,
        words=said,
        title=topic.title if topic is not None and (meeting is not None or has_own_page) else "",
        other=line.name_on(side.other) if side is not None else "",
        topic_id=row.topic_id,
        meeting_id=meeting.pk if meeting is not None else None,
        starts_at=meeting.starts_at if meeting is not None else None,
        zone=meeting.zone if meeting is not None else "",
        is_record=meeting is not None and meeting.state == Meeting.State.CLOSED,
        has_own_page=has_own_page,
    )


def _snippet_of(said: str, read: str, word: str) -> Snippet:
    """From what is read of the note, unless the word only stands in what is not, such as a link's address."""
    return _snippet(read if word in fold(read) else said, word)


def _snippet(said: str, word: str) -> Snippet:
    """The first place of a folded word in the text as it was written."""
    letters = [fold(character) for character in said]
    start = max(0, "".join(letters).find(word))
    at, first, last = 0, len(said), len(said)
    for place, letter in enumerate(letters):
        if first == len(said) and at + len(letter) > start:
            first = place
        at += len(letter)
        if at >= start + len(word):
            last = place + 1
            break
    while last < len(said) and not letters[last]:
        last += 1  # marks of the last letter
    return Snippet(
        before=_cut_before(said[max(0, first - AROUND) : first], whole=first <= AROUND),
        hit=said[first:last],
        after=_cut_after(said[last : last + AROUND], whole=len(said) - last <= AROUND),
    )


def _cut_before(text: str, *, whole: bool) -> str:
    return text if whole else "… " + text.partition(" ")[2]


def _cut_after(text: str, *, whole: bool) -> str:
    return text if whole else text.rpartition(" ")[0] + " …"
