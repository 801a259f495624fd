"""A meeting's order as one of the two sees it: boxes with clock times and reasons, and what did not fit."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from accounts.models import Person
from oneonone.models import Line, Meeting, Order, Placement, Side
from oneonone.planner import Plan
from oneonone.planner.calibration import boxed
from oneonone.selectors.agenda import frame, order_changes, orders, planning, topic_cards
from oneonone.selectors.private import margin

from .orders import Versions
from .planning import StandingOrder
from .reasons import NamedReasons, SaidOfTopic, Why, name_of, said_of
from .topic_cards import TopicCard


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
    change: order_changes.Change | None
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


def would_be(reader: Person, meeting: Meeting, standing: StandingOrder, *, before: Plan) -> OrderView:
    """The order of a meeting as an act would leave it, with what is different from ``before`` at each topic.

    Nothing that only the reader may read is looked for.
    """
    placements = topic_cards.placements_of(meeting)
    return _view(reader, meeting, placements, margin.Margin(), standing, before, read=standing.newest)


def _standing(meeting: Meeting) -> StandingOrder:
    """The order that stands. Of a meeting that is over and never had one: nothing but its opening."""
    if meeting.state == Meeting.State.PLANNED or meeting.is_coming:
        return planning.standing(meeting)
    versions = orders.of(meeting)
    if versions.latest is None:
        return StandingOrder(Plan(), versions, None, frame.opening_minutes(meeting), None)
    return StandingOrder(
        orders.plan_of(versions.latest), versions, versions.latest, versions.latest.opening, None
    )


def _view(
    reader: Person,
    meeting: Meeting,
    placements: Sequence[Placement],
    notes: margin.Margin,
    standing: StandingOrder,
    before: Plan | None,
    *,
    read: int | None,
) -> OrderView:
    line, order, plan, versions = meeting.line, standing.order, standing.plan, standing.versions
    shown = {str(row.pk): row for row in placements}
    view = dict(zip(shown, topic_cards.of(reader, line, placements, notes=notes), strict=True))
    factors = standing.factors
    titles = {key: card.title for key, card in view.items()}
    wording = NamedReasons(line, titles, factors, versions)
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
        by=name_of(line, order.by) if order and order.by else "",
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
        left=order_changes.left(before, plan, meeting),
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
            by=name_of(line, row.by),
            by_you=row.by_id == reader.pk,
            was_minute=row.was_minute if first is None else first.was_minute,
        )
    return {key: trace for key, trace in found.items() if not trace.by_you}


def _read_plan(meeting: Meeting, order: Order | None, read: int | None) -> Plan | None:
    if order is None or read is None or read >= order.number:
        return None
    row = meeting.orders.filter(number=read).first()
    return orders.plan_of(row) if row is not None else None


def _boxes(
    meeting: Meeting,
    plan: Plan,
    view: Mapping[str, TopicCard],
    before: Plan | None,
    wording: NamedReasons,
    unread: Mapping[str, Trace],
    said: Mapping[str, SaidOfTopic],
) -> tuple[Box, ...]:
    there = [slot for slot in plan.slots if slot.key in view]
    moved = order_changes.moved(before, [slot.key for slot in there], by_hand=unread)
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
            change=order_changes.of(before, slot.key, slot.minutes, moved),
            trace=unread.get(slot.key),
        )
        for position, slot in enumerate(there, start=1)
    )


def _kept(
    plan: Plan,
    rows: Mapping[str, Placement],
    view: Mapping[str, TopicCard],
    wording: NamedReasons,
) -> tuple[Kept, ...]:
    undecided = {key for key, row in rows.items() if row.outcome == Placement.Outcome.UNDECIDED}
    return tuple(
        Kept(topic=view[out.key], why=wording.why(out.reason))
        for out in plan.left_out
        if out.key in undecided
    )
