"""The account of one topic: why it is in or left out, why there and that long, and what would let it in."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import planner
from oneonone.models import Importance, Meeting, Placement, Side, Topic
from oneonone.planner import Plan, Weight

from . import orders, planner_input, planning, topic_cards
from .planner_input import PlannerInput
from .planning import StandingOrder
from .reasons import NamedReasons, SaidOfTopic, Why, said_of

RANKS = {
    planner.FIRST: Importance.Level.FIRST,
    planner.IN_TURN: Importance.Level.IN_TURN,
    planner.IF_TIME: Importance.Level.IF_TIME,
}


@dataclass(frozen=True)
class WayIn:
    """What would let a topic in that was left out: what its coming in pushes out or shortens, by title.

    ``minutes`` is what it would have. Without a place it cannot come in, whatever leaves.
    """

    minutes: int | None
    out: tuple[str, ...] = ()
    fewer: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class TopicAccount:
    """Everything that is said of one topic's place in an order.

    ``minute`` and ``minutes`` are of its box; ``place`` and ``length`` say why, ``out`` why it has none.
    ``said`` are the words that stand behind its rank. ``way_in`` is None for a topic that has a place, and
    where nothing is worked out any more because the meeting has begun.
    """

    placement: Placement
    title: str
    side: Side
    said: SaidOfTopic
    minute: int | None
    minutes: int
    place: Why | None
    length: Why | None
    out: Why | None
    weight: Weight
    way_in: WayIn | None = None

    @property
    def rank(self) -> Importance.Level:
        """The rank in the words of an importance."""
        return RANKS[self.weight.rank]

    @property
    def is_in(self) -> bool:
        return self.minute is not None


def of(reader: Person, placement: Placement) -> TopicAccount:
    """The account of a topic at a meeting, for one of its two sides; LookupError for anybody else.

    Queries do not grow with the topics. One plan is made for a topic that was left out, and one for the order
    as it stands where that is not stored.
    """
    meeting = placement.meeting
    side = meeting.line.side_for(reader)
    standing = _standing(meeting)
    rows = topic_cards.placements_of(meeting)
    titles = {str(row.pk): row.topic.title or _("(words removed)") for row in rows}
    wording = NamedReasons(meeting.line, titles, standing.factors, standing.versions)
    row = next((row for row in rows if row.pk == placement.pk), placement)
    times = planner_input.times_unheard([row.topic_id])
    told = _told(row, side, standing.plan, wording, times.get(row.topic_id, 0))
    return told if told.is_in else replace(told, way_in=_way_in(placement, standing, titles))


def example(reader: Person, meeting: Meeting) -> tuple[TopicAccount, ...]:
    """The account of each topic that asks for time, those in the order first; LookupError for no side of it.

    What would let a topic in is left open: that takes a plan for each.
    """
    side = meeting.line.side_for(reader)
    standing = _standing(meeting)
    rows = {str(row.pk): row for row in topic_cards.placements_of(meeting)}
    titles = {key: row.topic.title or _("(words removed)") for key, row in rows.items()}
    wording = NamedReasons(meeting.line, titles, standing.factors, standing.versions)
    times = planner_input.times_unheard(row.topic_id for row in rows.values())
    keys = [*standing.plan.keys, *(out.key for out in standing.plan.left_out)]
    return tuple(
        _told(rows[key], side, standing.plan, wording, times.get(rows[key].topic_id, 0))
        for key in keys
        if key in rows
    )


def added_by_kind() -> dict[Topic.Kind, int]:
    """What each kind adds to the worth of a topic within its rank."""
    return {
        kind: planner.weigh(manager=None, report=None, raiser=None, kind=kind.value).kind
        for kind in Topic.Kind
    }


def base_worth() -> int:
    """What every topic is worth within its rank, before anything is added."""
    weight = planner.weigh(manager=None, report=None, raiser=None, kind=Topic.Kind.UPDATE.value)
    return weight.worth - weight.kind


def _told(row: Placement, side: Side, plan: Plan, wording: NamedReasons, times: int) -> TopicAccount:
    key, topic = str(row.pk), row.topic
    slot = plan.slot(key)
    left = next((one for one in plan.left_out if one.key == key), None)
    said = said_of(row, times)
    return TopicAccount(
        placement=row,
        title=topic.title or _("(words removed)"),
        side=side,
        said=said,
        minute=slot.start if slot else None,
        minutes=slot.minutes if slot else 0,
        place=wording.place(key, slot.reason, said) if slot else None,
        length=wording.length(slot.length, topic.kind) if slot else None,
        out=wording.why(left.reason) if left else None,
        weight=planner_input.weight_of(topic, times_unheard=times, must=bool(said.musts)),
    )


def _standing(meeting: Meeting) -> StandingOrder:
    return planning.standing(meeting) if meeting.is_coming else _stored(meeting)


def _stored(meeting: Meeting) -> StandingOrder:
    """The last version of a meeting that is over."""
    versions = orders.of(meeting)
    plan = Plan() if versions.latest is None else orders.plan_of(versions.latest)
    return StandingOrder(plan, versions, versions.latest, 0, None)


def _way_in(placement: Placement, standing: StandingOrder, titles: dict[str, str]) -> WayIn | None:
    """What the order would be with the topic forced in, as if it had to be discussed: one plan."""
    key, given = str(placement.pk), _given(placement, standing)
    if given is None or key not in given.placements:
        return None
    forced, told = planner.let_in(given.items, given.frame, key, standing.plan)
    slot = forced.slot(key)
    if slot is None:
        return WayIn(None)
    return WayIn(
        minutes=slot.minutes,
        out=tuple(titles.get(one, "") for one in told.pushed_out),
        fewer=tuple((titles.get(one, ""), minutes) for one, minutes in told.shortened),
    )


def _given(placement: Placement, standing: StandingOrder) -> PlannerInput | None:
    """What the order was planned from; None once the meeting has begun."""
    if standing.given is not None:
        return standing.given
    if standing.order is None or placement.meeting.state != Meeting.State.ISSUED:
        return None
    return planning.input_after(placement.meeting, standing.order, also=placement)
