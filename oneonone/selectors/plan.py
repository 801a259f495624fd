"""A meeting's topics as the planner wants them, and the plan it makes of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from uuid import UUID

from django.db.models import Count, Q

from oneonone import planner
from oneonone.models import (
    Commitment,
    Importance,
    Line,
    Meeting,
    MustDiscuss,
    Order,
    Placement,
    Proposal,
    Side,
    Topic,
    TopicAfter,
)
from oneonone.planner import Frame, Item, Plan, PlannerRefusal
from oneonone.planner.calibrate import boxed

from . import calendar, coming, elders, history
from .sheets import KAPPA as KAPPA
from .sheets import Sheet as Sheet

ARRIVE_MINUTES = 4
MINUTES_A_COMMITMENT = 2
LEAST_CLOSING = 3

SAID_NO = (Proposal.State.DECLINED, Proposal.State.WITHDRAWN)
"""How asking for room can have ended so that the topic stays without a place."""


def opening_minutes(meeting: Meeting) -> int:
    """Minutes to arrive and say how commitments went: 4, and 2 for each due or changed, a quarter at most."""
    return min(ARRIVE_MINUTES + MINUTES_A_COMMITMENT * len(due_or_changed(meeting)), meeting.minutes // 4)


def closing_minutes(minutes: int) -> int:
    """Minutes to read back what is taken on: a tenth of the meeting, rounded up, at least 3."""
    return max(LEAST_CLOSING, -(-minutes // 10))


def due_or_changed(meeting: Meeting) -> list[UUID]:
    """Commitments due by the meeting, or settled or given another date since the last one."""
    day = calendar.local_day(meeting.starts_at, meeting.zone)
    last = coming.last_held(meeting.line, before=meeting)
    told = Q(state=Commitment.State.OPEN, current_date__lte=day)
    if last is not None and last.closed_at is not None:
        told |= Q(settled_at__gt=last.closed_at) | Q(revisions__at__gt=last.closed_at)
    rows = Commitment.objects.filter(line=meeting.line_id, confirmed_at__isnull=False).filter(told)
    return list(rows.distinct().values_list("pk", flat=True))


def longest_topic(meeting: Meeting) -> int:
    """The most minutes a topic can have: the meeting less its shortest opening and its closing."""
    opening = min(ARRIVE_MINUTES, meeting.minutes // 4)
    return meeting.minutes - opening - closing_minutes(meeting.minutes)


def latest_order(meeting: Meeting) -> Order | None:
    return Order.objects.filter(meeting=meeting).order_by("-number").first()


def undecided(meeting: Meeting) -> list[Placement]:
    """The topics that still ask for time at a meeting, oldest first."""
    return list(
        Placement.objects.filter(
            meeting=meeting, outcome=Placement.Outcome.UNDECIDED, topic__state=Topic.State.OPEN
        )
        .select_related("topic")
        .prefetch_related("topic__importances")
        .order_by("added_at", "id")
    )


def times_unheard(topic_ids: Iterable[UUID]) -> dict[UUID, int]:
    """How often each topic was left unheard at a meeting that was held: only those count."""
    rows = (
        Placement.objects.filter(
            topic__in=list(topic_ids),
            outcome=Placement.Outcome.UNHEARD,
            meeting__state=Meeting.State.CLOSED,
        )
        .values("topic")
        .annotate(times=Count("id"))
    )
    return {row["topic"]: row["times"] for row in rows}


def musts_of(meeting: Meeting) -> dict[UUID, set[Side]]:
    """The placements that must be discussed, each with the sides that say so."""
    sides: dict[UUID, set[Side]] = {}
    for placement, side in MustDiscuss.objects.filter(meeting=meeting).values_list("placement", "side"):
        sides.setdefault(placement, set()).add(Side(side))
    return sides


def levels_of(topic: Topic) -> dict[Side, Importance.Level]:
    """What each side says of a topic's importance; silence is *in turn*."""
    levels = dict.fromkeys(Side, Importance.Level.IN_TURN)
    for row in topic.importances.all():
        levels[Side(row.side)] = Importance.Level(row.level)
    return levels


def sheet(
    meeting: Meeting,
    *,
    order: Sequence[str] = (),
    placements: list[Placement] | None = None,
    opening: int | None = None,
    strict: bool = False,
) -> Sheet:
    """The planner's input for a meeting: every topic that asks for time, and the frame around them.

    ``opening`` are the minutes of an order that stands already. Without it a topic that was kept comes before
    an equal new one, also where minutes that are cut would have it otherwise.

    Minutes are those asked times what the line's history says of their kind. Once an order is issued its
    factors stand, so that two topics are never measured by different ones.

    ``order`` are keys whose order the hand has chosen. What somebody has said since about topics that only
    make sense after others wins over it, unless it is ``strict``: then the planner refuses it.
    """
    rows = asking(meeting) if placements is None else placements
    topics = [row.topic_id for row in rows]
    unheard = times_unheard(topics)
    musts = musts_of(meeting)
    key_of = {row.topic_id: str(row.pk) for row in rows}
    earlier: dict[UUID, list[str]] = {}
    for topic, before in TopicAfter.objects.filter(topic__in=topics).values_list("topic", "earlier"):
        if before in key_of:
            earlier.setdefault(topic, []).append(key_of[before])
    opens = opening_minutes(meeting) if opening is None else opening
    closes = closing_minutes(meeting.minutes)
    factors = factors_of(meeting)
    items = tuple(
        _calibrated(
            _item(row, times=unheard.get(row.topic_id, 0), must=bool(musts.get(row.pk)), after=earlier),
            factors.get(row.topic.kind),
            most=meeting.minutes - opens - closes,
        )
        for row in rows
    )
    frame = Frame(
        minutes=meeting.minutes,
        opening=opens,
        closing=closes,
        floors=_floors(meeting.line),
        order=_fitting(
            [key for key in order if key in {str(row.pk) for row in rows}],
            {} if strict else {str(row.pk): earlier.get(row.topic_id, []) for row in rows},
        ),
    )
    made = Sheet(items, frame, {str(row.pk): row for row in rows}, factors)
    held = {str(row.pk) for row in rows if row.is_in_by_hand}
    if opening is None:
        ages = {str(row.pk): _of_age(unheard.get(row.topic_id, 0)) for row in rows}
        weights = {item.key: item.worth - ages[item.key] for item in items}
        made = made.waiting_for(elders.of(items, ages=ages, weights=weights, but={*frame.order, *held}))
    return made.holding(held)


def _of_age(times: int) -> int:
    """What having been kept so many times adds to a topic's worth."""
    turn, kind = Importance.Level.IN_TURN.value, Topic.Kind.UPDATE.value
    return planner.worth(manager=turn, report=turn, kind=kind, kept=times) - planner.worth(
        manager=turn, report=turn, kind=kind
    )


def factors_of(meeting: Meeting) -> dict[str, Fraction]:
    """How many times over each kind runs: as the issued order was made with, else by the history now."""
    if meeting.state in (Meeting.State.ISSUED, Meeting.State.UNDER_WAY):
        latest = latest_order(meeting)
        if latest is not None:
            return factors_in(latest)
    return history.factors(meeting.line)


def factors_in(order: Order) -> dict[str, Fraction]:
    """The factors a version of the order was made with, by kind."""
    return {kind: Fraction(hundredths, 100) for kind, hundredths in order.factors.items()}


def _calibrated(item: Item, factor: Fraction | None, *, most: int) -> Item:
    """The topic with its minutes times the factor, but never longer than the meeting has room for.

    What was asked stays beside it, so that the page can say both.
    """
    if factor is None:
        return item
    return replace(
        item,
        wanted=min(boxed(item.wanted, factor), max(most, item.wanted)),
        least=min(boxed(item.least, factor), max(most, item.least)),
        asked=item.wanted,
    )


def asking(meeting: Meeting) -> list[Placement]:
    """The topics that ask for time, but for late ones that the other side has not said yes to.

    No other change of an order brings those in by the way.
    """
    held_back = Proposal.objects.filter(
        meeting=meeting,
        kind=Proposal.Kind.LATE_TOPIC,
        state__in=(Proposal.State.OPEN, *SAID_NO),
        placement__is_late=True,
    )
    waiting = set(held_back.values_list("placement", flat=True))
    return [row for row in undecided(meeting) if row.pk not in waiting]


def _fitting(order: Sequence[str], after: dict[str, list[str]]) -> tuple[str, ...]:
    """The keys in the order given, each behind all those it has to come after."""
    placed: dict[str, None] = {}

    def put(key: str) -> None:
        if key in placed:
            return
        for before in _all_before(key, after):
            if before in order:
                put(before)
        placed[key] = None

    for key in order:
        put(key)
    return tuple(placed)


def _all_before(key: str, after: dict[str, list[str]]) -> list[str]:
    """What a topic comes after, directly or further back, in the order of the rows."""
    found: set[str] = set()
    level = set(after.get(key, ()))
    while level:
        found |= level
        level = {before for one in level for before in after.get(one, ())} - found
    return [one for one in after if one in found]


def _item(row: Placement, *, times: int, must: bool, after: dict[UUID, list[str]]) -> Item:
    topic = row.topic
    levels = levels_of(topic)
    return Item(
        key=str(row.pk),
        side=None if topic.is_joint else topic.side,
        wanted=row.minutes_wanted,
        least=row.minutes_least,
        worth=planner.worth(
            manager=levels[Side.MANAGER].value,
            report=levels[Side.REPORT].value,
            kind=topic.kind,
            kept=times,
            must=must,
        ),
        must=must,
        after=tuple(sorted(after.get(row.topic_id, ()))),
        start=row.pinned_minute,
        sensitive=topic.is_sensitive,
    )


def _floors(line: Line) -> dict[str, Fraction] | None:
    """The air floors, in force only once both sides have set one."""
    if line.manager_floor_percent is None or line.report_floor_percent is None:
        return None
    return {
        Side.MANAGER.value: Fraction(line.manager_floor_percent, 100),
        Side.REPORT.value: Fraction(line.report_floor_percent, 100),
    }


def hand_order(meeting: Meeting, latest: Order | None) -> tuple[str, ...]:
    """The keys whose order is the hand's: all of the latest order's while a move in it was not undone."""
    if latest is None:
        return ()
    undone = 0
    for cause in meeting.orders.order_by("-number").values_list("cause", flat=True):
        if cause == Order.Cause.UNDONE:
            undone += 1
        elif cause == Order.Cause.MOVED and undone:
            undone -= 1
        elif cause == Order.Cause.MOVED:
            return tuple(slot["key"] for slot in latest.plan["slots"])
    return ()


def preview(meeting: Meeting) -> tuple[Sheet, Plan]:
    """The order as it would be issued now; without the hand's where that goes against what was said since.

    Nothing is stored.
    """
    latest = latest_order(meeting)
    made = sheet(meeting, order=hand_order(meeting, latest))
    try:
        return made, made.plan()
    except PlannerRefusal:
        made = sheet(meeting)
        return made, made.plan()


def standing(meeting: Meeting) -> Plan:
    """The order that stands: the latest version once it is issued, and before that as it would be now."""
    if meeting.state != Meeting.State.PLANNED:
        latest = latest_order(meeting)
        if latest is not None:
            return planner.from_json(latest.plan)
    return preview(meeting)[1]
