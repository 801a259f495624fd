"""A meeting's order as one of the two sees it: boxes with clock times and reasons, and what did not fit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accounts.models import Person
from oneonone import planner
from oneonone.models import Line, Meeting, Order, Placement, Side
from oneonone.planner import Plan, Reason
from oneonone.planner.calibrate import boxed

from . import cards, changes, margin
from . import plan as plans
from .cards import TopicCard


@dataclass(frozen=True)
class Why:
    """A reason of the planner's, with titles and names of sides in place of its keys.

    Numbers are minutes, offsets from the start of the meeting, worths or shares, as the code says. Of a
    length that follows the line's history they hold ``factor``, how many times over topics of ``kind`` run.
    """

    code: str
    numbers: Mapping[str, int | Fraction]
    names: tuple[str, ...] = ()
    kind: str = ""


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
    place in it. ``short`` says by how much the must-discuss topics exceed the room, and ``ways_out`` what
    would cure it. ``left`` are titles that were in the order the reader last read and are not in this one.
    """

    number: int | None
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
    relaxed: tuple[Why, ...]
    read: int | None
    left: tuple[str, ...]

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
    def can_be_undone(self) -> bool:
        return self.cause == Order.Cause.MOVED

    def brings(self, side: Side) -> int:
        """The minutes that one side's topics have in this order."""
        return sum(box.minutes for box in self.boxes if box.topic.side == side.value)


@dataclass(frozen=True)
class _Frame:
    opening: int
    closing: int
    made: Plan
    order: Order | None
    factors: Mapping[str, Fraction]


def of(
    reader: Person, meeting: Meeting, *, read: int | None = None, private: bool = True
) -> tuple[OrderView, margin.Margin]:
    """The order of a meeting for ``reader``, and their margin beside it.

    ``read`` is the number of the order they last marked as read. The queries do not grow with the topics.
    Without ``private`` their margin is neither looked for nor opened, and empty.
    """
    placements = cards.placements_of(meeting)
    notes = margin.Margin()
    if private:
        notes = margin.beside(reader, meeting=meeting, topic_ids=[row.topic_id for row in placements])
    frame = _frame(meeting)
    before = _read_plan(meeting, frame.order, read)
    return replace(_view(reader, meeting, placements, notes, frame, before), read=read), notes


def would_be(reader: Person, meeting: Meeting, made: Plan, *, before: Plan) -> OrderView:
    """The order of a meeting as ``made`` has it, with what is different from ``before`` at each topic.

    Nothing that only the reader may read is looked for.
    """
    placements = cards.placements_of(meeting)
    frame = _frame(meeting, made=made)
    return _view(reader, meeting, placements, margin.Margin(), frame, before)


def _view(
    reader: Person,
    meeting: Meeting,
    placements: Sequence[Placement],
    notes: margin.Margin,
    frame: _Frame,
    before: Plan | None,
) -> OrderView:
    line, order = meeting.line, frame.order
    shown = {str(row.pk): row for row in placements}
    view = dict(zip(shown, cards.of(reader, line, placements, notes=notes), strict=True))
    wording = Wording(line, {key: card.title for key, card in view.items()}, frame.factors)
    boxes = _boxes(meeting, frame.made, view, before, wording)
    kept = _kept(frame.made, shown, view, wording)
    placed = {box.topic.placement_id for box in boxes} | {item.topic.placement_id for item in kept}
    undecided = [row for row in placements if row.outcome == Placement.Outcome.UNDECIDED]
    return OrderView(
        number=order.number if order else None,
        cause=order.cause if order else _latest_cause(meeting),
        by=_name_of(line, order.by) if order and order.by else "",
        by_you=order is not None and order.by_id == reader.pk,
        at=order.at if order else None,
        opening=frame.opening,
        closing=frame.closing,
        asked=sum(row.minutes_wanted for row in undecided),
        expected=sum(
            boxed(row.minutes_wanted, frame.factors.get(row.topic.kind, Fraction(1))) for row in undecided
        ),
        room=meeting.minutes - frame.opening - frame.closing,
        boxes=boxes,
        kept=kept,
        late=tuple(view[str(row.pk)] for row in undecided if row.pk not in placed),
        short=wording.why(frame.made.shortage) if frame.made.shortage else None,
        ways_out=tuple(wording.why(way) for way in frame.made.ways_out),
        relaxed=tuple(wording.why(rule) for rule in frame.made.relaxed),
        read=None,
        left=changes.left(before, frame.made, meeting),
    )


def _frame(meeting: Meeting, *, made: Plan | None = None) -> _Frame:
    """The latest order once there is one to prepare against, else what would be issued now, or ``made``.

    Of a meeting that is over and never had one, that is nothing but its opening and closing.
    """
    latest = None
    if meeting.state != Meeting.State.PLANNED:
        latest = meeting.orders.select_related("by").order_by("-number").first()
    if latest is not None:
        kept = made or planner.from_json(latest.plan)
        return _Frame(latest.opening, latest.closing, kept, latest, plans.factors_in(latest))
    if made is not None:
        return _Frame(
            plans.opening_minutes(meeting),
            plans.closing_minutes(meeting.minutes),
            made,
            None,
            plans.factors_of(meeting),
        )
    sheet, made = plans.preview(meeting)
    return _Frame(sheet.frame.opening, sheet.frame.closing, made, None, sheet.factors)


def _latest_cause(meeting: Meeting) -> str:
    """Before issue a move by hand is a version already, and can be undone like any other."""
    latest = meeting.orders.order_by("-number").values_list("cause", flat=True).first()
    return latest or ""


def _read_plan(meeting: Meeting, order: Order | None, read: int | None) -> Plan | None:
    if order is None or read is None or read >= order.number:
        return None
    row = meeting.orders.filter(number=read).first()
    return planner.from_json(row.plan) if row is not None else None


class Wording:
    """Titles and names of sides for the keys that reasons name, and how many times over each kind runs."""

    def __init__(self, line: Line, titles: Mapping[str, str], factors: Mapping[str, Fraction]) -> None:
        self._names = {**titles, **{side.value: line.name_on(side) for side in Side}}
        self._factors = factors

    def why(self, reason: Reason) -> Why:
        """A reason that names topics and sides."""
        names = tuple(self._names.get(key, "") for key in reason.keys)
        return Why(code=reason.code, numbers=dict(reason.numbers), names=names)

    def length(self, reason: Reason, kind: str) -> Why:
        """Why a topic of a kind is as long as it is."""
        numbers = dict(reason.numbers)
        if "asked" in numbers and kind in self._factors:
            numbers["factor"] = self._factors[kind]
        return Why(code=reason.code, numbers=numbers, kind=kind)


def _boxes(
    meeting: Meeting,
    made: Plan,
    view: Mapping[str, TopicCard],
    before: Plan | None,
    wording: Wording,
) -> tuple[Box, ...]:
    there = [slot for slot in made.slots if slot.key in view]
    moved = changes.moved(before, [slot.key for slot in there])
    return tuple(
        Box(
            topic=view[slot.key],
            position=position,
            minute=slot.start,
            minutes=slot.minutes,
            starts_at=meeting.minute_zero + dt.timedelta(minutes=slot.start),
            ends_at=meeting.minute_zero + dt.timedelta(minutes=slot.end),
            place=wording.why(slot.reason),
            length=wording.length(slot.length, view[slot.key].kind),
            change=changes.of(before, slot.key, slot.minutes, moved),
        )
        for position, slot in enumerate(there, start=1)
    )


def _kept(
    made: Plan,
    rows: Mapping[str, Placement],
    view: Mapping[str, TopicCard],
    wording: Wording,
) -> tuple[Kept, ...]:
    undecided = {key for key, row in rows.items() if row.outcome == Placement.Outcome.UNDECIDED}
    return tuple(
        Kept(topic=view[out.key], why=wording.why(out.reason))
        for out in made.left_out
        if out.key in undecided
    )


def _name_of(line: Line, person: Person) -> str:
    side = line.side_of(person)
    return line.name_on(side) if side is not None else person.called
