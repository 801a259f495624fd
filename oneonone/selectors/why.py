"""The full account of one topic: why it is in or left out, why there and that long, and what it weighs.

What would change without it, or with it, comes from planning again, never from a guess: at most two plans
are made for one account, and one of them is the order as it stands where that is not stored.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from math import floor

from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import planner
from oneonone.models import Importance, Meeting, Order, Placement, Side
from oneonone.planner import Item, Plan, PlannerRefusal, explain

from . import plan as plans
from . import weighing
from .order import Why, Wording
from .plan import Sheet
from .weighing import Weight

# Why nothing was planned again: must-discuss topics alone are too long; or the meeting has begun.
TOO_LONG, BEGUN = "too long", "begun"


@dataclass(frozen=True)
class Effect:
    """What planning again changes: titles that leave, come in, and have fewer or more minutes.

    ``out_worth`` is the worth of those that leave together, ``worth`` by how much the whole order changes,
    ``minutes`` what a topic brought in would have. ``given_up`` are rules that could not be kept then.
    """

    out: tuple[str, ...]
    out_worth: int
    come_in: tuple[str, ...]
    fewer: tuple[tuple[str, int], ...]
    more: tuple[tuple[str, int], ...]
    worth: Fraction
    minutes: int
    given_up: tuple[Why, ...]


@dataclass(frozen=True)
class WayIn:
    """What would let a topic in: minutes that are missing, or the worth from which on it comes in by itself.

    ``if_first`` says that the reader's "first" would be enough.
    """

    minutes: int | None = None
    worth: int | None = None
    if_first: bool = False


@dataclass(frozen=True)
class Account:
    """Everything that can be said of one topic's place in an order.

    ``minute`` and ``minutes`` are of its box; ``place`` and ``length`` say why, ``out`` why it has none.
    ``by_hand`` says that somebody gave it its place, ``is_issued`` that people prepare against the order. An
    ``effect`` comes from planning without it, or with it; ``needed_by`` are topics that have to be in and
    come after it, so that it cannot be left out; ``impossible`` is why it cannot come in. ``silent`` is why
    nothing was planned again. ``solves`` counts the plans made.
    """

    placement: Placement
    title: str
    side: Side
    must: frozenset[Side]
    minute: int | None
    minutes: int
    place: Why | None
    length: Why | None
    out: Why | None
    weight: Weight
    effect: Effect | None = None
    needed_by: tuple[str, ...] = ()
    impossible: Why | None = None
    way_in: WayIn = WayIn()
    by_hand: bool = False
    is_issued: bool = False
    silent: str = ""
    solves: int = 0

    @property
    def is_in(self) -> bool:
        return self.minute is not None


@dataclass(frozen=True)
class _Standing:
    """An order as it stands, what it was planned from, and how many plans that took."""

    plan: Plan
    sheet: Sheet | None
    solves: int
    silent: str = ""
    is_stored: bool = False


def of(reader: Person, placement: Placement) -> Account:
    """The account of a topic at a meeting, for one of its two sides; LookupError for anybody else.

    Queries do not grow with the topics.
    """
    meeting = placement.meeting
    side = meeting.line.side_for(reader)
    standing = _standing(meeting, placement)
    rows = meeting.placements.select_related("topic").prefetch_related("topic__importances")
    titles = {str(row.pk): row.topic.title or _("(words removed)") for row in rows}
    factors = standing.sheet.factors if standing.sheet else plans.factors_of(meeting)
    wording = Wording(meeting.line, titles, factors)
    told = _as_it_stands(placement, side, standing.plan, wording)
    told = replace(told, silent=standing.silent, solves=standing.solves, is_issued=standing.is_stored)
    if standing.silent or standing.sheet is None:
        return told
    return _planned_again(told, standing, standing.sheet, titles, wording)


def _standing(meeting: Meeting, placement: Placement) -> _Standing:
    latest = plans.latest_order(meeting)
    if meeting.state == Meeting.State.PLANNED and meeting.given_up_at is None:
        return _as_it_would_be(meeting, latest)
    stored = Plan() if latest is None else planner.from_json(latest.plan)
    if meeting.state != Meeting.State.ISSUED or latest is None:
        return _Standing(stored, None, 0, silent=BEGUN, is_stored=True)
    asking = plans.asking(meeting)
    if all(row.pk != placement.pk for row in asking):
        asking += [row for row in plans.undecided(meeting) if row.pk == placement.pk]
    sheet = plans.sheet(
        meeting, order=plans.hand_order(meeting, latest), placements=asking, opening=latest.opening
    ).keeping()
    silent = "" if stored.infeasible is None else TOO_LONG
    return _Standing(stored, sheet, 0, silent, is_stored=True)


def _as_it_would_be(meeting: Meeting, latest: Order | None) -> _Standing:
    """The order as the agenda page shows it before issue: two plans where the first is infeasible."""
    sheet = plans.sheet(meeting, order=plans.hand_order(meeting, latest))
    try:
        made = planner.plan(sheet.items, sheet.frame)
    except PlannerRefusal:
        sheet = plans.sheet(meeting)
        made = planner.plan(sheet.items, sheet.frame)
    if made.infeasible is None:
        return _Standing(made, sheet, 1)
    return _Standing(planner.plan(sheet.loosened().items, sheet.frame), sheet, 2, TOO_LONG)


def _as_it_stands(placement: Placement, side: Side, made: Plan, wording: Wording) -> Account:
    """What needs no planning: the stored reasons, and the worth by the rule."""
    key, topic = str(placement.pk), placement.topic
    slot = made.slot(key)
    left = next((out for out in made.left_out if out.key == key), None)
    must = frozenset(plans.musts_of(placement.meeting).get(placement.pk, ()))
    times = plans.times_unheard([topic.pk]).get(topic.pk, 0)
    return Account(
        placement=placement,
        title=topic.title or _("(words removed)"),
        side=side,
        must=must,
        minute=slot.start if slot else None,
        minutes=slot.minutes if slot else 0,
        place=wording.why(slot.reason) if slot else None,
        length=wording.length(slot.length, topic.kind) if slot else None,
        out=wording.why(left.reason) if left else None,
        weight=weighing.of(plans.levels_of(topic), kind=topic.kind, times_kept=times, must=bool(must)),
    )


def _planned_again(
    told: Account, standing: _Standing, sheet: Sheet, titles: Mapping[str, str], wording: Wording
) -> Account:
    key = str(told.placement.pk)
    if key not in sheet.placements:
        return told
    ask = explain.why_in if told.is_in else explain.why_out
    sheet = sheet.apart(key)
    told = replace(told, by_hand=key in sheet.by_hand)
    if told.is_in:
        sheet = sheet.letting_go(key)
    try:
        found = ask(sheet.items, sheet.frame, key, standing.plan)
    except PlannerRefusal:
        return told
    told = replace(told, solves=told.solves + found.solves)
    if found.difference is None:
        needed = tuple(titles[one] for one in _musts_behind(sheet.items, key))
        shortage = found.changed.shortage
        return replace(told, needed_by=needed, impossible=wording.why(shortage) if shortage else None)
    effect = _effect(found, sheet.items, titles, wording)
    way = WayIn() if told.is_in else _way_in(told, found, standing, sheet)
    return replace(told, effect=effect, way_in=way)


def _effect(
    found: explain.Account, items: tuple[Item, ...], titles: Mapping[str, str], wording: Wording
) -> Effect:
    changes = found.difference
    if changes is None:
        raise LookupError("an account without a difference")
    worth = {item.key: item.worth for item in items}
    out = [key for key in changes.pushed_out if key != found.key]
    slot = found.changed.slot(found.key)
    before = set(found.standing.relaxed)
    return Effect(
        out=tuple(titles.get(key, "") for key in out),
        out_worth=sum(worth.get(key, 0) for key in out),
        come_in=tuple(titles.get(key, "") for key in changes.brought_in if key != found.key),
        fewer=tuple((titles.get(key, ""), minutes) for key, minutes in changes.trimmed),
        more=tuple((titles.get(key, ""), minutes) for key, minutes in changes.stretched),
        worth=changes.worth,
        minutes=slot.minutes if slot else 0,
        given_up=tuple(wording.why(rule) for rule in found.changed.relaxed if rule not in before),
    )


def _musts_behind(items: tuple[Item, ...], key: str) -> list[str]:
    """The topics that have to be in, as must-discuss or by hand, and come after a topic, directly or not."""
    behind: set[str] = set()
    level = {key}
    while level:
        level = {item.key for item in items if level & set(item.after)} - behind
        behind |= level
    return [item.key for item in items if item.key in behind and item.must]


def _way_in(told: Account, found: explain.Account, standing: _Standing, sheet: Sheet) -> WayIn:
    """The cheapest ways in, from the constraint that bound and from the two plans that were made."""
    minutes = None
    if told.out is not None and told.out.code in ("no_minutes", "too_long"):
        there = told.out.numbers["free" if told.out.code == "no_minutes" else "room"]
        minutes = int(told.out.numbers["least"] - there)
    enough = None if standing.is_stored else _worth_enough(found, sheet)
    if enough is None:
        return WayIn(minutes)
    levels = dict(told.weight.levels)
    levels[told.side] = Importance.Level.FIRST
    raised = weighing.of(
        levels, kind=told.weight.kind, times_kept=told.weight.times_kept, must=bool(told.must)
    )
    return WayIn(minutes, enough, if_first=raised.worth >= enough)


def _worth_enough(found: explain.Account, sheet: Sheet) -> int | None:
    """The worth from which on a topic left out comes in by itself.

    With it in, the order is worth V1, and grows with its worth by at least the part that its minutes are good
    for; without it, at most V0, what the order is worth now. So whatever lifts V1 above V0 is enough. Only
    where both plans are proven best and keep the same rules.
    """
    before, after = found.standing, found.changed
    slot = after.slot(found.key)
    if slot is None or before.relaxed != after.relaxed or before.set_gap or after.set_gap:
        return None
    item = next(item for item in sheet.items if item.key == found.key)
    part = Fraction(1) if slot.minutes >= item.wanted else sheet.frame.beta
    return floor(item.worth + (before.worth - after.worth) / part) + 1
