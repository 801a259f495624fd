"""Topics placed by hand: the hand wins over the planner, and either side can take it back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import planner
from oneonone.models import Meeting, MustDiscuss, Order, Placement
from oneonone.planner import Plan, PlannerRefusal
from oneonone.selectors import plan as plans

from . import versions
from .refusals import MustStays, NoRoom, NotNow, OutOfRange


@dataclass(frozen=True)
class Moved:
    """What a move by hand made: the new version, and the topics it pushed out of the meeting."""

    order: Order
    pushed_out: tuple[Placement, ...]


@transaction.atomic
def move(*, placement: Placement, places: int, actor: Person, now: dt.datetime) -> Moved:
    """Move a topic so many places later (earlier when negative). A start that was set for it is given up.

    Refused: once the topic has begun, when it is not in the order, past a topic that it has to come after or
    before, and when it would push out what must be discussed.
    """
    desk = _desk(placement, actor)
    if desk.key not in desk.keys:
        raise NotNow
    at = desk.keys.index(desk.key)
    return _moved(desk, min(max(at + places, 0), len(desk.keys) - 1), actor=actor, now=now)


@transaction.atomic
def move_before(
    *, placement: Placement, following: Placement | None, actor: Person, now: dt.datetime
) -> Moved:
    """Move a topic to right before another one, or to the end. Refused as ``move`` refuses."""
    desk = _desk(placement, actor)
    others = [key for key in desk.keys if key != desk.key]
    if desk.key not in desk.keys:
        raise NotNow
    if following is None:
        return _moved(desk, len(others), actor=actor, now=now)
    if str(following.pk) not in others:
        raise OutOfRange(field="place", accepted=_("A place before a topic that is still to come."))
    return _moved(desk, others.index(str(following.pk)), actor=actor, now=now)


@transaction.atomic
def begin_at(*, placement: Placement, minute: int | None, actor: Person, now: dt.datetime) -> Moved:
    """Set the minute of the meeting at which a topic begins; None leaves its place to the planner again.

    Refused: once it has begun, when it is not in the order or, for None, not in it by hand, outside the
    minutes for topics, and where what must be discussed, another start that was set, or what it comes after
    leaves no room there.
    """
    desk = _desk(placement, actor)
    by_hand = placement.is_in_by_hand or placement.pinned_minute is not None
    if desk.key not in desk.keys or (minute is None and not by_hand):
        raise NotNow
    if minute is not None:
        _in_range(desk, minute, now=now)
    _hold(placement, minute, held=minute is not None)
    # The others keep the order that a hand has chosen; one of the planner's may close up around the start.
    chosen = plans.hand_order(desk.meeting, plans.latest_order(desk.meeting))
    order = tuple(key for key in chosen if key in desk.keys and (minute is None or key != desk.key))
    sheet = desk.sheet(order).keeping()
    plan = _planned(desk, sheet, now=now)
    if minute is not None:
        _begins(desk, plan)
    return _written(desk, sheet, plan, actor=actor, now=now)


def may_come_in(placement: Placement) -> bool:
    """Whether a topic asks for time and has no place yet, in a meeting whose order can still change."""
    return (
        placement.outcome == Placement.Outcome.UNDECIDED
        and placement.began_at is None
        and placement.meeting.is_coming
    )


def with_it_in(
    *, placement: Placement, actor: Person, now: dt.datetime, minute: int | None = None
) -> tuple[plans.Sheet, Plan]:
    """The order with a topic brought in by hand, and what it was planned from. Nothing is stored.

    ``minute`` is the one of the meeting at which it is to begin; None lets the planner find its place.

    Refused: when the topic has a place already or asks for none, when what must be discussed or has a place
    by hand leaves no room for it, and where ``begin_at`` refuses a minute.
    """
    return _with_it_in(_desk(placement, actor), minute, now=now)


def _with_it_in(desk: _Desk, minute: int | None, *, now: dt.datetime) -> tuple[plans.Sheet, Plan]:
    if desk.key in desk.keys:
        raise NotNow
    if desk.standing.infeasible is not None:
        raise desk.no_room
    if minute is not None:
        _in_range(desk, minute, now=now)
    order = (
        desk.keys
        if desk.latest is not None
        else plans.hand_order(desk.meeting, plans.latest_order(desk.meeting))
    )
    sheet = desk.sheet(order, strict=False, also=desk.placement).holding({desk.key})
    items = (replace(item, start=minute) if item.key == desk.key else item for item in sheet.items)
    sheet = replace(sheet, items=tuple(items))
    plan = _planned(desk, sheet, now=now)
    if minute is not None:
        _begins(desk, plan)
    return sheet, plan


@transaction.atomic
def bring_in(*, placement: Placement, actor: Person, now: dt.datetime, minute: int | None = None) -> Moved:
    """Give a topic that was left out a place, whatever it displaces, and a start if one is said.

    Refused as ``with_it_in`` refuses.
    """
    desk = _desk(placement, actor)
    sheet, plan = _with_it_in(desk, minute, now=now)
    _hold(placement, minute, held=True)
    return _written(desk, sheet, plan, actor=actor, now=now)


@transaction.atomic
def undo(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Order:
    """Take back the last move by hand, by either side: the version before it becomes the next one.

    Starts and places that were set by it are given up. Refused when anything else has changed the order
    since.
    """
    latest = plans.latest_order(meeting)
    if latest is None or latest.cause != Order.Cause.MOVED or not meeting.is_coming:
        raise NotNow
    before = meeting.orders.filter(number__lt=latest.number).order_by("-number").first()
    versions.take_hand_back(meeting=meeting, to=before)
    sheet = plans.sheet(meeting, opening=latest.opening)
    plan = sheet.plan() if before is None else planner.from_json(before.plan)
    return versions.append(meeting, sheet, plan, cause=Order.Cause.UNDONE, actor=actor, now=now)


@dataclass(frozen=True)
class _Desk:
    """A topic to be placed, by whom, and the order it is placed in.

    ``latest`` is the version that people prepare against, None before there is one, and ``standing`` that one
    or what it would be now, with its minutes of ``opening``. ``keys`` are the topics still to come, first to
    last.
    """

    placement: Placement
    actor: Person
    latest: Order | None
    standing: Plan
    opening: int
    keys: tuple[str, ...]

    @property
    def key(self) -> str:
        return str(self.placement.pk)

    @property
    def meeting(self) -> Meeting:
        return self.placement.meeting

    def begin(self, now: dt.datetime) -> int:
        """The first minute that a topic can still begin at."""
        if self.meeting.state != Meeting.State.UNDER_WAY:
            return self.opening
        return max(self.opening, versions.minute_of(self.meeting, now))

    @property
    def end(self) -> int:
        """The minute at which reading back begins."""
        return self.meeting.minutes - plans.closing_minutes(self.meeting.minutes)

    def sheet(
        self, order: Sequence[str], *, strict: bool = True, also: Placement | None = None
    ) -> plans.Sheet:
        """What the planner is given, with the hand's ``order``; ``also`` is a topic that waits for a yes."""
        rows = plans.asking(self.meeting)
        if also is not None and also not in rows:
            rows.append(also)
        return plans.sheet(self.meeting, order=order, opening=self.opening, strict=strict, placements=rows)

    def lifts(self, plan: Plan) -> bool:
        """Whether a start that was set, and kept until now, is given up in this plan."""
        return any(one.code == "slot_lifted" for one in set(plan.relaxed) - set(self.standing.relaxed))

    @property
    def no_room(self) -> MustStays | NoRoom:
        """What is said when a topic cannot be placed: whose must-discuss it is, if the other side has one."""
        side = self.meeting.line.side_of(self.actor)
        others = MustDiscuss.objects.waiting(self.meeting).exclude(side=side or "")
        return MustStays() if others.exists() else NoRoom()


def _desk(placement: Placement, actor: Person) -> _Desk:
    meeting = placement.meeting
    if not may_come_in(placement):
        raise NotNow
    if meeting.state not in versions.WITH_ORDER or (latest := plans.latest_order(meeting)) is None:
        sheet, standing = plans.preview(meeting)
        return _Desk(placement, actor, None, standing, sheet.frame.opening, standing.keys)
    keys = versions.ahead(meeting, versions.keys_of(latest))
    return _Desk(placement, actor, latest, planner.from_json(latest.plan), latest.opening, keys)


def _moved(desk: _Desk, at: int, *, actor: Person, now: dt.datetime) -> Moved:
    order = [key for key in desk.keys if key != desk.key]
    order.insert(at, desk.key)
    if desk.placement.pinned_minute is not None:
        _hold(desk.placement, None, held=True)
    sheet = desk.sheet(tuple(order))
    return _written(desk, sheet, _planned(desk, sheet, now=now), actor=actor, now=now)


def _hold(placement: Placement, minute: int | None, *, held: bool) -> None:
    placement.pinned_minute, placement.is_in_by_hand = minute, held
    placement.save(update_fields=["pinned_minute", "is_in_by_hand"])


def _in_range(desk: _Desk, minute: int, *, now: dt.datetime) -> None:
    if not desk.begin(now) <= minute < desk.end:
        raise OutOfRange(field="minute", accepted=_("A minute between the opening and the reading back."))


def _begins(desk: _Desk, plan: Plan) -> None:
    """Refuse a plan in which the topic does not begin as it was set to, or only as another one gives way."""
    if plan.slot(desk.key) is None or desk.lifts(plan):
        raise OutOfRange(
            field="minute",
            accepted=_(
                "A start that leaves room for what must be discussed and for other starts that were set, and "
                "that is not before what it comes after."
            ),
        )


def _written(desk: _Desk, sheet: plans.Sheet, plan: Plan, *, actor: Person, now: dt.datetime) -> Moved:
    written = versions.append(desk.meeting, sheet, plan, cause=Order.Cause.MOVED, actor=actor, now=now)
    out = tuple(
        sheet.placements[key] for key in desk.keys if plan.slot(key) is None and key in sheet.placements
    )
    return Moved(order=written, pushed_out=out)


def _planned(desk: _Desk, sheet: plans.Sheet, *, now: dt.datetime) -> Plan:
    """The plan, or a refusal. An order that was too short for its must-discuss topics before may stay so."""
    plan = _solved(desk, sheet, now=now)
    if plan.infeasible is None:
        return plan
    if desk.standing.infeasible is None:
        raise desk.no_room
    shown = _solved(desk, sheet.loosened(), now=now)
    return replace(shown, infeasible=plan.infeasible, shortage=plan.shortage, ways_out=plan.ways_out)


def _solved(desk: _Desk, sheet: plans.Sheet, *, now: dt.datetime) -> Plan:
    held = replace(sheet, frame=replace(sheet.frame, kappa=max(sheet.frame.kappa, versions.KAPPA)))
    try:
        if desk.latest is None:
            return planner.plan(held.items, held.frame)
        return versions.after(desk.meeting, held, desk.latest, now=now)
    except PlannerRefusal:
        raise OutOfRange(
            field="places",
            accepted=_("A place behind the topics it comes after, and before those that come after it."),
        ) from None
