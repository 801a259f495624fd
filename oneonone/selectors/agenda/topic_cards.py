"""Topics as one of the two sees them: whose, what kind, what each side says of it, and the reader's note."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, MustDiscuss, Placement, Side, Topic, TopicAfter
from oneonone.selectors.private import margin

from . import planner_input

BOTH = "both"
HEARD = (Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES)


@dataclass(frozen=True)
class TopicCard:
    """One topic on a page. ``side`` is "manager", "report" or "both".

    ``yours`` and ``theirs`` are levels of ``Importance``, empty for a side that has said nothing; the two
    ``was_first`` say that *first* became *in turn*, because two other topics were first when it came back.
    ``unheard`` counts the held meetings that did not reach it. ``began_at`` is when the meeting took it up.
    ``after`` are the titles of topics it only makes sense after.
    """

    topic_id: UUID
    placement_id: UUID | None
    title: str
    detail: str
    kind: str
    outcome_wanted: str
    side: str
    is_yours: bool
    yours: str
    theirs: str
    yours_was_first: bool
    theirs_was_first: bool
    must_yours: bool
    must_theirs: bool
    minutes_wanted: int
    minutes_least: int
    is_late: bool
    is_sensitive: bool
    every_nth: int | None
    unheard: int
    after: tuple[str, ...]
    state: str
    outcome: str
    began_at: dt.datetime | None
    version: int
    note: margin.Note

    @property
    def began(self) -> bool:
        return self.began_at is not None

    @property
    def is_must(self) -> bool:
        """Whether either side has said that it must be discussed."""
        return self.must_yours or self.must_theirs

    @property
    def is_undecided(self) -> bool:
        return self.outcome == Placement.Outcome.UNDECIDED


def placements_of(meeting: Meeting) -> list[Placement]:
    """A meeting's topics that were not withdrawn or parked, oldest first, with what cards are made of."""
    return list(
        Placement.objects.filter(meeting=meeting)
        .exclude(outcome=Placement.Outcome.WITHDRAWN)
        .select_related("topic")
        .prefetch_related(
            # As lists: a query set for each of forty topics costs as much as all the rest of the page.
            Prefetch("topic__importances", to_attr="read_importances"),
            Prefetch("musts", to_attr="read_musts"),
        )
        .order_by("added_at", "id")
    )


def importances_of(topic: Topic) -> Iterable[Importance]:
    """What the sides have said of a topic, from what ``placements_of`` has read or else anew."""
    read: list[Importance] | None = getattr(topic, "read_importances", None)
    return topic.importances.all() if read is None else read


def musts_of(placement: Placement) -> Iterable[MustDiscuss]:
    """The marks of a topic that must be discussed, likewise."""
    read: list[MustDiscuss] | None = getattr(placement, "read_musts", None)
    return placement.musts.all() if read is None else read


def of(
    reader: Person, line: Line, placements: Sequence[Placement], *, notes: margin.Margin
) -> tuple[TopicCard, ...]:
    """A card for each placement, in the order given."""
    ids = [row.topic_id for row in placements]
    unheard = planner_input.times_unheard(ids)
    after = _after(ids)
    side = line.side_for(reader)
    return tuple(
        _card(
            reader,
            side,
            row.topic,
            placement=row,
            unheard=unheard.get(row.topic_id, 0),
            after=after.get(row.topic_id, ()),
            note=notes.at(row.topic_id),
        )
        for row in placements
    )


def titles_of(meeting: Meeting) -> dict[str, str]:
    """The titles of a meeting's topics by the keys that the planner knows them by."""
    rows = meeting.placements.order_by("added_at", "id").values_list("pk", "topic__title")
    return {str(pk): title or _("(words removed)") for pk, title in rows}


def parked(reader: Person, line: Line) -> tuple[TopicCard, ...]:
    """The topics on a line's list that ask for no time, oldest first; LookupError for others."""
    side = line.side_for(reader)
    rows = list(
        Topic.objects.filter(line=line, state=Topic.State.PARKED)
        .prefetch_related("importances")
        .order_by("created_at", "id")
    )
    return tuple(
        _card(reader, side, row, placement=None, unheard=0, after=(), note=margin.NOTHING) for row in rows
    )


def others(line: Line, *, but: Topic | None = None) -> tuple[tuple[UUID, str], ...]:
    """The topics still open on a line that another one may be asked to come after, by id and title."""
    rows = Topic.objects.filter(line=line, state=Topic.State.OPEN).order_by("created_at", "id")
    if but is not None:
        rows = rows.exclude(pk=but.pk)
    return tuple(rows.values_list("pk", "title"))


def _card(
    reader: Person,
    side: Side,
    topic: Topic,
    *,
    placement: Placement | None,
    unheard: int,
    after: tuple[str, ...],
    note: margin.Note,
) -> TopicCard:
    said = {Side(row.side): row for row in importances_of(topic)}
    yours, theirs = said.get(side), said.get(side.other)
    heard = placement is None or placement.outcome in HEARD
    musts = set() if heard or placement is None else {must.side for must in musts_of(placement)}
    minutes = placement or topic
    return TopicCard(
        topic_id=topic.pk,
        placement_id=placement.pk if placement else None,
        title=topic.title or _("(words removed)"),
        detail=topic.detail,
        kind=topic.kind,
        outcome_wanted=topic.outcome_wanted,
        side=BOTH if topic.is_joint else topic.side,
        is_yours=topic.raiser_id == reader.pk,
        yours=yours.level if yours else "",
        theirs=theirs.level if theirs else "",
        yours_was_first=yours is not None and yours.was_first,
        theirs_was_first=theirs is not None and theirs.was_first,
        must_yours=side.value in musts,
        must_theirs=side.other.value in musts,
        minutes_wanted=minutes.minutes_wanted,
        minutes_least=minutes.minutes_least,
        is_late=placement is not None and placement.is_late,
        is_sensitive=topic.is_sensitive,
        every_nth=topic.every_nth,
        unheard=unheard,
        after=after,
        state=topic.state,
        outcome=placement.outcome if placement else "",
        began_at=placement.began_at if placement else None,
        version=topic.version,
        note=note,
    )


def _after(topic_ids: Sequence[UUID]) -> Mapping[UUID, tuple[str, ...]]:
    found: dict[UUID, tuple[str, ...]] = {}
    rows = TopicAfter.objects.filter(topic__in=topic_ids).order_by("earlier__created_at", "earlier_id")
    for topic, title in rows.values_list("topic", "earlier__title"):
        found[topic] = (*found.get(topic, ()), title)
    return found
