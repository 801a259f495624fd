"""A meeting's order as one of the two sees it: boxes with clock times and reasons, and what did not fit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, Order, Placement, Side
from oneonone.planner import Plan, Reason
from oneonone.planner.calibration import boxed
from oneonone.selectors import margin

from . import changes, frame, orders, planning, topic_cards
from .orders import Versions
from .planning import Standing
from .topic_cards import TopicCard

BOTH = "both"
SKIPPED = "skipped"


@dataclass(frozen=True)
class Why:
    """A reason of the planner's, with titles and names of people in place of its keys.

    Numbers are minutes, offsets from the start of the meeting or worths, as the code says. Of a length that
    follows the line's history they hold ``factor``, how many times over topics of ``kind`` run. ``by`` is who
    put a topic where it is, called it *first* or must discuss it: a name, ``BOTH``, or empty.
    """

    code: str
    numbers: Mapping[str, int | Fraction]
    names: tuple[str, ...] = ()
    kind: str = ""
    by: str = ""


@dataclass(frozen=True)
class Trace:
    """A move by hand that the reader has not read: who, and the minute it began at before, if it was in."""

    by: str
    by_you: bool
    was_minute: int | None


@dataclass(frozen=True)
class Box:
    """A topic's place on the rail. ``position`` counts from 1."""

    topic: TopicCard
    position: int
    minute: int
    minutes: int
    starts_at: dt.datetime
    ends_at: dt.datetime
    place: Why
    length: Why
    change: changes.Change | None
    trace: Trace | None


@dataclass(frozen=True)
class Kept:
    """A topic that asks for time and has none in this order, and why."""

    topic: TopicCard
    why: Why


@dataclass(frozen=True)
class OrderView:
    """One version of the order, or, when ``number`` is None, the order as it would be issued now.

    Minutes: ``opening`` and ``closing`` at the ends, ``asked`` by all topics together, ``expected`` of them
    by how topics have run here, ``room`` for topics. ``late`` are topics added after the order that have no
    place in it. ``short`` says by how much the must-discuss topics exceed the room. ``left`` are titles that
    were in the order the reader last read and are not in this one. ``newest`` is the number of the newest
    version, also while none is issued; ``unread`` are the moves by hand that the reader has not read.
    ``can_be_put_anew`` says that places are kept, by issue or by hand, which the rule alone may not give.
    """

    number: int | None
    newest: int | None
    cause: str
    by: str
    by_you: bool
    at: dt.datetime | None
    opening: int
    closing: int
    asked: int
    expected: int
    room: int
    boxes: tuple[Box, ...]
    kept: tuple[Kept, ...]
    late: tuple[TopicCard, ...]
    short: Why | None
    ways_out: tuple[Why, ...]
    given_up: tuple[tuple[str, str], ...]
    read: int | None
    unread: int
    left: tuple[str, ...]
    can_be_put_anew: bool

    @property
    def is_preview(self) -> bool:
        return self.number is None

    @property
    def is_read(self) -> bool:
        return self.number is not None and self.read is not None and self.read >= self.number

    @property
    def changes(self) -> int:
        """How many topics are new, moved, changed or gone since the reader read an order."""
        return sum(box.change is not None for box in self.boxes) + len(self.left)

    @property
    def to_read(self) -> int | None:
        """The number of the version that the reader can mark as read; None where there is nothing to mark."""
        if self.is_preview:
            return self.newest if self.unread else None
        return None if self.is_read else self.number

    @property
    def can_be_undone(self) -> bool:
        return self.cause in orders.UNDOABLE

    def brings(self, side: Side) -> int:
        """The minutes that one side's topics have in this order."""
        return sum(box.minutes for box in self.boxes if box.topic.side == side.value)


def of(
    reader: Person, meeting: Meeting, *, read: int | None = None, private: bool = True
) -> tuple[OrderView, margin.Margin]:
    """The order of a meeting for ``reader``, and their margin beside it.

    ``read`` is the number of the order they last marked as read. The queries do not grow with the topics.
    Without ``private`` their margin is neither looked for nor opened, and empty.
    """
    placements = topic_cards.placements_of(meeting)
    notes = margin.Margin()
    if private:
        notes = margin.beside(reader, meeting=meeting, topic_ids=[row.topic_id for row in placements])
    standing = _standing(meeting)
    before = _read_plan(meeting, standing.order, read)
    view = _view(
        reader, meeting, placements, notes, standing, before, read=read if private else standing.newest
    )
    return replace(view, read=read), notes


def would_be(reader: Person, meeting: Meeting, standing: Standing, *, before: Plan) -> OrderView:
    """The order of a meeting as an act would leave it, with what is different from ``before`` at each topic.

    Nothing that only the reader may read is looked for.
    """
    placements = topic_cards.placements_of(meeting)
    return _view(reader, meeting, placements, margin.Margin(), standing, before, read=standing.newest)


def _standing(meeting: Meeting) -> Standing:
    """The order that stands. Of a meeting that is over and never had one: nothing but its opening."""
    if meeting.state == Meeting.State.PLANNED or meeting.is_coming:
        return planning.standing(meeting)
    versions = orders.of(meeting)
    if versions.latest is None:
        return Standing(Plan(), versions, None, frame.opening_minutes(meeting), None)
    return Standing(orders.plan_of(versions.latest), versions, versions.latest, versions.latest.opening, None)


def _view(
    reader: Person,
    meeting: Meeting,
    placements: Sequence[Placement],
    notes: margin.Margin,
    standing: Standing,
    before: Plan | None,
    *,
    read: int | None,
) -> OrderView:
    line, order, plan, versions = meeting.line, standing.order, standing.plan, standing.versions
    shown = {str(row.pk): row for row in placements}
    view = dict(zip(shown, topic_cards.of(reader, line, placements, notes=notes), strict=True))
    factors = standing.factors
    titles = {key: card.title for key, card in view.items()}
    wording = Wording(line, titles, factors, versions)
    unread = _traces(reader, line, versions, read)
    said = {key: said_of(row, view[key].unheard) for key, row in shown.items()}
    boxes = _boxes(meeting, plan, view, before, wording, unread, said)
    kept = _kept(plan, shown, view, wording)
    placed = {box.topic.placement_id for box in boxes} | {item.topic.placement_id for item in kept}
    undecided = [row for row in placements if row.outcome == Placement.Outcome.UNDECIDED]
    closing = frame.closing_minutes(meeting.minutes) if order is None else order.closing
    latest = versions.latest
    return OrderView(
        number=order.number if order else None,
        newest=latest.number if latest else None,
        cause=latest.cause if latest else "",
        by=_name_of(line, order.by) if order and order.by else "",
        by_you=order is not None and order.by_id == reader.pk,
        at=order.at if order else None,
        opening=standing.opening,
        closing=closing,
        asked=sum(row.minutes_wanted for row in undecided),
        expected=sum(
            boxed(row.minutes_wanted, factors.get(row.topic.kind, Fraction(1))) for row in undecided
        ),
        room=meeting.minutes - standing.opening - closing,
        boxes=boxes,
        kept=kept,
        late=tuple(view[str(row.pk)] for row in undecided if row.pk not in placed),
        short=wording.why(plan.infeasible) if plan.infeasible else None,
        ways_out=tuple(wording.why(way) for way in plan.ways_out),
        given_up=tuple(
            (view[one].title, view[other].title)
            for one, other in plan.given_up
            if one in view and other in view
        ),
        read=None,
        unread=len(unread),
        left=changes.left(before, plan, meeting),
        can_be_put_anew=meeting.state != Meeting.State.UNDER_WAY and bool(versions.kept_order),
    )


def _traces(reader: Person, line: Line, versions: Versions, read: int | None) -> dict[str, Trace]:
    """The moves by hand that are newer than what the reader has read, by topic: where each was at first."""
    found: dict[str, Trace] = {}
    for row in versions.since(read or 0):
        if row.placement_id is None or row.by is None:
            continue
        key = str(row.placement_id)
        first = found.get(key)
        found[key] = Trace(
            by=_name_of(line, row.by),
            by_you=row.by_id == reader.pk,
            was_minute=row.was_minute if first is None else first.was_minute,
        )
    return {key: trace for key, trace in found.items() if not trace.by_you}


def _read_plan(meeting: Meeting, order: Order | None, read: int | None) -> Plan | None:
    if order is None or read is None or read >= order.number:
        return None
    row = meeting.orders.filter(number=read).first()
    return orders.plan_of(row) if row is not None else None


@dataclass(frozen=True)
class Said:
    """Whose words stand behind the place of one topic, and how many held meetings did not reach it."""

    musts: frozenset[Side]
    firsts: frozenset[Side]
    unheard: int


def said_of(row: Placement, unheard: int) -> Said:
    """What both sides said of a topic, from a row with its marks and importances at hand."""
    return Said(
        musts=frozenset(Side(must.side) for must in row.musts.all()),
        firsts=frozenset(
            Side(said.side) for said in row.topic.importances.all() if said.level == Importance.Level.FIRST
        ),
        unheard=unheard,
    )


class Wording:
    """Titles and names in place of the keys that reasons hold, and how many times over each kind runs."""

    def __init__(
        self, line: Line, titles: Mapping[str, str], factors: Mapping[str, Fraction], versions: Versions
    ) -> None:
        self._line, self._titles, self._factors, self._versions = line, titles, factors, versions

    def why(self, reason: Reason) -> Why:
        """A reason that names topics."""
        names = tuple(self._titles.get(key, "") for key in reason.keys)
        return Why(code=reason.code, numbers=dict(reason.numbers), names=names)

    def place(self, key: str, reason: Reason, said: Said) -> Why:
        """Why a topic stands where it stands, and by whose word."""
        why = self.why(reason)
        if reason.code == "must":
            return replace(why, by=self._named(said.musts))
        if reason.code == "first" and said.firsts:
            return replace(why, by=self._named(said.firsts))
        if reason.code == "first" and said.unheard:
            return replace(why, code=SKIPPED, numbers={"times": said.unheard})
        if reason.code == "by_hand":
            moved = self._versions.moved_by(key)
            return replace(why, by=_name_of(self._line, moved.by) if moved and moved.by else "")
        return why

    def _named(self, sides: Collection[Side]) -> str:
        return BOTH if len(sides) > 1 else "".join(self._line.first_name_on(side) for side in sides)

    def length(self, reason: Reason, kind: str) -> Why:
        """Why a topic of a kind is as long as it is."""
        numbers: dict[str, int | Fraction] = dict(reason.numbers)
        if "asked" in numbers and kind in self._factors:
            numbers["factor"] = self._factors[kind]
        return replace(self.why(reason), numbers=numbers, kind=kind)


def _boxes(
    meeting: Meeting,
    plan: Plan,
    view: Mapping[str, TopicCard],
    before: Plan | None,
    wording: Wording,
    unread: Mapping[str, Trace],
    said: Mapping[str, Said],
) -> tuple[Box, ...]:
    there = [slot for slot in plan.slots if slot.key in view]
    moved = changes.moved(before, [slot.key for slot in there], by_hand=unread)
    return tuple(
        Box(
            topic=view[slot.key],
            position=position,
            minute=slot.start,
            minutes=slot.minutes,
            starts_at=meeting.minute_zero + dt.timedelta(minutes=slot.start),
            ends_at=meeting.minute_zero + dt.timedelta(minutes=slot.end),
            place=wording.place(slot.key, slot.reason, said[slot.key]),
            length=wording.length(slot.length, view[slot.key].kind),
            change=changes.of(before, slot.key, slot.minutes, moved),
            trace=unread.get(slot.key),
        )
        for position, slot in enumerate(there, start=1)
    )


def _kept(
    plan: Plan,
    rows: Mapping[str, Placement],
    view: Mapping[str, TopicCard],
    wording: Wording,
) -> tuple[Kept, ...]:
    undecided = {key for key, row in rows.items() if row.outcome == Placement.Outcome.UNDECIDED}
    return tuple(
        Kept(topic=view[out.key], why=wording.why(out.reason))
        for out in plan.left_out
        if out.key in undecided
    )


def _name_of(line: Line, person: Person) -> str:
    side = line.side_of(person)
    return line.first_name_on(side) if side is not None else person.called
