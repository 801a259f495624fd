"""Topics placed by hand: moved, given a start, put in. Either side can take it back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Meeting, MustDiscuss, Order, Placement
from oneonone.planner import Plan
from oneonone.selectors.agenda import planner_input, planning
from oneonone.selectors.agenda.planner_input import PlannerInput
from oneonone.selectors.agenda.planning import StandingOrder
from oneonone.services.refusals import MustStays, NoRoom, NotNow, OutOfRange

from . import order_versions


@dataclass(frozen=True)
class Moved:
    """What a move by hand made: the new version, and the topics it pushed out of the meeting."""

    order: Order
    pushed_out: tuple[Placement, ...]


@transaction.atomic
def move(*, placement: Placement, places: int, actor: Person, now: dt.datetime) -> Moved:
    """Move a topic so many places later (earlier when negative). A start that was set for it is given up.

    Refused: once the topic has begun, when it is not in the order, and past a topic that it has to come after
    or before, or an agreed start that leaves no room there.
    """
    desk = _desk(placement, actor)
    if desk.key not in desk.keys:
        raise NotNow
    at = desk.keys.index(desk.key)
    return _moved(desk, min(max(at + places, 0), len(desk.keys) - 1), now=now)


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
        return _moved(desk, len(others), now=now)
    if str(following.pk) not in others:
        raise OutOfRange(field="place", accepted=_("A place before a topic that is still to come."))
    return _moved(desk, others.index(str(following.pk)), now=now)


@transaction.atomic
def begin_at(*, placement: Placement, minute: int | None, actor: Person, now: dt.datetime) -> Moved:
    """Set the minute of the meeting at which a topic begins; None gives up the start and the place by hand.

    Refused: once it has begun, when it is not in the order or, for None, not in it by hand, outside the
    minutes for topics, and where what must be discussed, another start that was set, or what it comes after
    leaves no room there.
    """
    desk = _desk(placement, actor)
    by_hand = placement.is_in_by_hand or placement.pinned_minute is not None
    if desk.key not in desk.keys or (minute is None and not by_hand):
        raise NotNow
    if minute is not None:
        _check_minute(desk, minute, now=now)
    _fix(placement, minute, by_hand=minute is not None)
    given = desk.given([key for key in desk.kept_order if key != desk.key])
    plan = _planned(desk, given, now=now)
    if minute is not None:
        _check_begins(desk, plan, minute)
    return _written(desk, given, plan, now=now)


def may_come_in(placement: Placement) -> bool:
    """Whether a topic asks for time and has no place yet, in a meeting whose order can still change."""
    return (
        placement.outcome == Placement.Outcome.UNDECIDED
        and placement.began_at is None
        and placement.meeting.is_coming
    )


def with_it_in(
    *, placement: Placement, actor: Person, now: dt.datetime, minute: int | None = None
) -> tuple[PlannerInput, Plan]:
    """The order with a topic put in by hand, and what it was planned from. Nothing is stored.

    ``minute`` is the one of the meeting at which it is to begin; None leaves its place to the rule.

    Refused: when the topic has a place already or asks for none, when what must be discussed, an agreed
    start, what is called *first* or what was put in before leaves no room for it, and where ``begin_at``
    refuses a minute.
    """
    return _with_it_in(_desk(placement, actor), minute, now=now)


def _with_it_in(desk: _Desk, minute: int | None, *, now: dt.datetime) -> tuple[PlannerInput, Plan]:
    if desk.key in desk.keys:
        raise NotNow
    if minute is not None:
        _check_minute(desk, minute, now=now)
    given = desk.given(desk.kept_order, also=desk.placement).changing(desk.key, by_hand=True, start=minute)
    plan = _planned(desk, given, now=now)
    if minute is not None:
        _check_begins(desk, plan, minute)
    put_in = [item.key for item in given.items if item.by_hand or item.start is not None]
    lost = [key for key in put_in if desk.standing.plan.slot(key) and plan.slot(key) is None]
    if plan.slot(desk.key) is None or lost:
        raise desk.no_room
    return given, plan


@transaction.atomic
def bring_in(*, placement: Placement, actor: Person, now: dt.datetime, minute: int | None = None) -> Moved:
    """Give a topic that was left out a place, whatever it displaces, and a start if one is said.

    Refused as ``with_it_in`` refuses.
    """
    desk = _desk(placement, actor)
    given, plan = _with_it_in(desk, minute, now=now)
    _fix(placement, minute, by_hand=True)
    return _written(desk, given, plan, now=now)


@dataclass(frozen=True)
class _Desk:
    """A topic to be placed, by whom, and the order it is placed in. ``keys`` are still to come, in order."""

    placement: Placement
    actor: Person
    standing: StandingOrder
    keys: tuple[str, ...]

    @property
    def key(self) -> str:
        return str(self.placement.pk)

    @property
    def meeting(self) -> Meeting:
        return self.placement.meeting

    @property
    def latest(self) -> Order | None:
        """The version that people prepare against, None before there is one."""
        return self.standing.order

    @property
    def kept_order(self) -> Sequence[str]:
        """The topics whose order is kept: all once the order is issued, before that what the hand chose."""
        return self.keys if self.latest is not None else self.standing.versions.kept_order

    def given(self, order: Sequence[str], *, also: Placement | None = None) -> PlannerInput:
        """What the planner is given, with this ``order``; ``also`` is a topic that waits for a yes."""
        if self.latest is not None:
            return planning.input_after(self.meeting, self.latest, order=order, also=also)
        before = self.standing.given
        return planner_input.of(
            self.meeting,
            order=order,
            opening=self.standing.opening,
            factors=None if before is None else before.factors,
        )

    @property
    def no_room(self) -> MustStays | NoRoom:
        """What is said when a topic cannot be placed: whose must-discuss it is, if the other side has one."""
        side = self.meeting.line.side_of(self.actor)
        others = MustDiscuss.objects.filter(meeting=self.meeting).exclude(side=side or "")
        return MustStays() if others.exists() else NoRoom()


def _desk(placement: Placement, actor: Person) -> _Desk:
    if not may_come_in(placement):
        raise NotNow
    standing = planning.standing(placement.meeting)
    keys = tuple(slot.key for slot in standing.plan.slots)
    if standing.order is not None:
        keys = planning.ahead(placement.meeting, keys)
    return _Desk(placement, actor, standing, keys)


def _moved(desk: _Desk, at: int, *, now: dt.datetime) -> Moved:
    order = [key for key in desk.keys if key != desk.key]
    order.insert(at, desk.key)
    _fix(desk.placement, None, by_hand=True)
    given = desk.given(order)
    plan = _planned(desk, given, now=now)
    if plan.slot(desk.key) is None or _gives_up(desk, plan):
        raise OutOfRange(
            field="places",
            accepted=_(
                "A place behind the topics it comes after, before those that come after it, and with room "
                "beside the starts that were set."
            ),
        )
    return _written(desk, given, plan, now=now)


def _gives_up(desk: _Desk, plan: Plan) -> bool:
    """Whether the topic stands on the other side of one that it was moved past."""
    new = set(plan.given_up) - set(desk.standing.plan.given_up)
    return any(desk.key in pair for pair in new)


def _fix(placement: Placement, minute: int | None, *, by_hand: bool) -> None:
    placement.pinned_minute, placement.is_in_by_hand = minute, by_hand
    placement.save(update_fields=["pinned_minute", "is_in_by_hand"])


def _check_minute(desk: _Desk, minute: int, *, now: dt.datetime) -> None:
    meeting, first, last = desk.meeting, desk.standing.opening, desk.standing.last_minute(desk.meeting)
    if meeting.state == Meeting.State.UNDER_WAY:
        first = max(first, planning.minute_of(meeting, now))
    if not first <= minute < last:
        raise OutOfRange(field="minute", accepted=_("A minute between the opening and the reading back."))


def _check_begins(desk: _Desk, plan: Plan, minute: int) -> None:
    """Refuse a plan in which the topic does not begin as it was set to, or another such start is given up."""
    slot = plan.slot(desk.key)
    others = desk.meeting.placements.filter(
        pinned_minute__isnull=False, outcome=Placement.Outcome.UNDECIDED
    ).exclude(pk=desk.placement.pk)
    starts = {str(pk): start or 0 for pk, start in others.values_list("pk", "pinned_minute")}
    lost = [key for key, start in starts.items() if key in desk.keys and not _begins(plan, key, start)]
    if slot is None or slot.start != minute or lost:
        raise OutOfRange(
            field="minute",
            accepted=_(
                "A start that leaves room for what must be discussed and for other starts that were set, and "
                "that is not before what it comes after."
            ),
        )


def _begins(plan: Plan, key: str, start: int) -> bool:
    slot = plan.slot(key)
    return slot is not None and slot.start == start


def _planned(desk: _Desk, given: PlannerInput, *, now: dt.datetime) -> Plan:
    """The plan; refused where must-discuss topics that fitted before do not fit any more."""
    if desk.latest is None:
        plan = planning.planned(given)
    else:
        plan = planning.after(desk.meeting, given, desk.latest, now=now)
    if plan.infeasible is not None and desk.standing.plan.infeasible is None:
        raise desk.no_room
    return plan


def _written(desk: _Desk, given: PlannerInput, plan: Plan, *, now: dt.datetime) -> Moved:
    was = desk.standing.plan.slot(desk.key)
    written = order_versions.append(
        desk.meeting,
        given,
        plan,
        cause=Order.Cause.MOVED,
        actor=desk.actor,
        now=now,
        placement=desk.placement,
        was_minute=None if was is None else was.start,
    )
    out = tuple(
        given.placements[key] for key in desk.keys if plan.slot(key) is None and key in given.placements
    )
    return Moved(order=written, pushed_out=out)
