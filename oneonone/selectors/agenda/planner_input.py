"""What the planner is given for one meeting: every topic that asks for time, and the frame around them.

The way of a topic: its row and what both sides said of it become an ``Item`` here, ``planning`` has the order
worked out, and ``order_view`` shows the slot.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from uuid import UUID

from django.db.models import Count

from oneonone import planner
from oneonone.models import (
    Importance,
    Meeting,
    MustDiscuss,
    Placement,
    Proposal,
    Side,
    Topic,
    TopicAfter,
)
from oneonone.planner import Frame, Item, Weight
from oneonone.planner.calibration import boxed
from oneonone.selectors.agenda import duration_history, orders

from . import frame as frames

SAID_NO = (Proposal.State.DECLINED, Proposal.State.WITHDRAWN)
"""How asking for room can have ended so that the topic stays without a place."""


@dataclass(frozen=True)
class PlannerInput:
    """What the planner is given for one meeting, and the rows behind it by key.

    ``factors`` are how many times over each kind runs here: minutes asked have been multiplied by them.
    ``unheard`` is how often each topic was not reached in a held meeting.
    """

    items: tuple[Item, ...]
    frame: Frame
    placements: Mapping[str, Placement]
    factors: Mapping[str, Fraction]
    unheard: Mapping[str, int]

    def item(self, key: str) -> Item:
        """The item of a topic; LookupError when it is not among them."""
        found = next((item for item in self.items if item.key == key), None)
        if found is None:
            raise LookupError(key)
        return found

    def changing(self, key: str, **changes: object) -> PlannerInput:
        """The same with other values for one topic."""
        items = tuple(replace(item, **changes) if item.key == key else item for item in self.items)  # type: ignore[arg-type]
        return replace(self, items=items)

    def in_order(self, order: Sequence[str]) -> PlannerInput:
        """The same with these topics in this order."""
        return replace(self, frame=replace(self.frame, order=tuple(order)))

    def holding(self, keys: Collection[str]) -> PlannerInput:
        """The same with these topics in before any other, so that a change cannot displace them."""
        items = tuple(replace(item, must=item.must or item.key in keys) for item in self.items)
        return replace(self, items=items)


def of(
    meeting: Meeting,
    *,
    order: Sequence[str] = (),
    placements: Sequence[Placement] | None = None,
    opening: int | None = None,
    factors: Mapping[str, Fraction] | None = None,
) -> PlannerInput:
    """The planner's input for a meeting. The queries do not grow with the topics.

    ``opening`` and ``factors`` are those of an order that stands already: two topics of one order are never
    measured by different ones. ``order`` are keys that keep this order. ``placements`` are the topics, where
    they are not those that ask for time now.
    """
    rows = asking(meeting) if placements is None else placements
    unheard = times_unheard(row.topic_id for row in rows)
    musts = musts_of(meeting)
    earlier = _earlier(rows)
    opens = frames.opening_minutes(meeting) if opening is None else opening
    closes = frames.closing_minutes(meeting.minutes)
    known = duration_history.factors(meeting.line) if factors is None else factors
    room = meeting.minutes - opens - closes
    items = tuple(
        _calibrated(
            _item(
                row,
                times=unheard.get(row.topic_id, 0),
                must=row.pk in musts,
                after=earlier.get(row.topic_id, ()),
                tiebreak=place,
            ),
            known.get(row.topic.kind),
            most=room,
        )
        for place, row in enumerate(_longest_kept_first(rows, unheard))
    )
    return PlannerInput(
        items=items,
        frame=Frame(minutes=meeting.minutes, opening=opens, closing=closes, order=tuple(order)),
        placements={str(row.pk): row for row in rows},
        factors=known,
        unheard={str(row.pk): unheard.get(row.topic_id, 0) for row in rows},
    )


def _longest_kept_first(rows: Sequence[Placement], unheard: Mapping[UUID, int]) -> list[Placement]:
    """The order in which equal topics come: kept most often, then first added."""
    return sorted(rows, key=lambda row: (-unheard.get(row.topic_id, 0), row.topic.created_at, str(row.pk)))


def _item(row: Placement, *, times: int, must: bool, after: Sequence[str], tiebreak: int) -> Item:
    topic = row.topic
    weight = weight_of(topic, times_unheard=times, must=must)
    return Item(
        key=str(row.pk),
        side=None if topic.is_joint else topic.side,
        wanted=row.minutes_wanted,
        least=row.minutes_least,
        worth=weight.worth,
        rank=weight.rank,
        must=must,
        by_hand=row.is_in_by_hand,
        after=tuple(sorted(after)),
        start=row.pinned_minute,
        sensitive=topic.is_sensitive,
        tiebreak=tiebreak,
    )


def weight_of(topic: Topic, *, times_unheard: int, must: bool) -> Weight:
    """The rank and worth of a topic, from what both sides have said of it."""
    said = levels_of(topic)
    return planner.weigh(
        manager=said.get(Side.MANAGER),
        report=said.get(Side.REPORT),
        raiser=None if topic.is_joint else topic.side,
        kind=topic.kind,
        skipped=times_unheard,
        must=must,
    )


def _earlier(rows: Sequence[Placement]) -> dict[UUID, list[str]]:
    """For each topic the keys of those here that it only makes sense after."""
    key_of = {row.topic_id: str(row.pk) for row in rows}
    earlier: dict[UUID, list[str]] = {}
    for topic, before in TopicAfter.objects.filter(topic__in=key_of).values_list("topic", "earlier"):
        if before in key_of:
            earlier.setdefault(topic, []).append(key_of[before])
    return earlier


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


def asking(meeting: Meeting) -> list[Placement]:
    """The topics that ask for time, but for late ones that the other side has not said yes to.

    No other change of an order brings those in.
    """
    held_back = Proposal.objects.filter(
        meeting=meeting,
        kind=Proposal.Kind.LATE_TOPIC,
        state__in=(Proposal.State.OPEN, *SAID_NO),
        placement__is_late=True,
    ).exclude(payload__has_key=Proposal.WANTED)
    waiting = set(held_back.values_list("placement", flat=True)) if _has_order(meeting) else set()
    return [row for row in undecided(meeting) if row.pk not in waiting]


def _has_order(meeting: Meeting) -> bool:
    """Nothing is late before there is an order to be late for."""
    return meeting.state in orders.WITH_ORDER


def times_unheard(topic_ids: Iterable[UUID]) -> dict[UUID, int]:
    """How often each topic was not reached in a meeting that was held: only those count."""
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
    """What the sides have said of a topic's importance. A side that has said nothing is not in it."""
    read: list[Importance] | None = getattr(topic, "read_importances", None)
    rows = topic.importances.all() if read is None else read
    return {Side(row.side): Importance.Level(row.level) for row in rows}
