"""Topics: added, edited, marked as must-discuss, parked and withdrawn."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Line, MustDiscuss, Placement, Side, Topic, TopicAfter
from oneonone.models.base import TITLE, WORDS
from oneonone.planner import Plan
from oneonone.services import idempotency
from oneonone.services.refusals import Circle, NotNow, OutOfRange, Stale, TooMany
from oneonone.services.text_limits import many_lines, one_line

from . import importance as importances
from . import issuing, late_topics, order_versions, placing

# Minutes by kind when none are given (design: the cycle); least useful is half of what is wanted.
USUAL_MINUTES: dict[str, int] = {
    Topic.Kind.UPDATE: 5,
    Topic.Kind.QUESTION: 5,
    Topic.Kind.IDEA: 10,
    Topic.Kind.OBSTACLE: 10,
    Topic.Kind.ACHIEVEMENT: 5,
    Topic.Kind.FEEDBACK: 10,
    Topic.Kind.GROWTH: 15,
}
# What counts for a topic's place, beside its minutes and what it comes after.
WEIGHED = ("kind", "is_sensitive")
MOST_MINUTES = 240
MOST_TOPICS = 60


@dataclass(frozen=True)
class Wording:
    """What a raiser says of a topic. Minutes left out follow the kind; least useful is then half."""

    title: str
    kind: str = Topic.Kind.UPDATE
    detail: str = ""
    outcome_wanted: str = Topic.Outcome.INFORM
    minutes_wanted: int | None = None
    minutes_least: int | None = None
    is_sensitive: bool = False
    every_nth: int | None = None


def least_of(wanted: int) -> int:
    """Half of the minutes wanted, rounded up: below it a topic is not worth opening."""
    return max(1, -(-wanted // 2))


def _checked(wording: Wording, *, longest: int) -> dict[str, object]:
    """The columns of a topic. Refused: minutes out of range, least above wanted, longer than the meeting."""
    if wording.kind not in Topic.Kind.values:
        raise OutOfRange(field="kind", accepted=_("One of the kinds listed."))
    if wording.outcome_wanted not in Topic.Outcome.values:
        raise OutOfRange(field="outcome_wanted", accepted=_("One of the outcomes listed."))
    wanted = wording.minutes_wanted
    if wanted is None:
        wanted = min(USUAL_MINUTES[wording.kind], longest)
    if not 1 <= wanted <= MOST_MINUTES:
        raise OutOfRange(
            field="minutes_wanted", accepted=_("From 1 to %(most)d minutes.") % {"most": MOST_MINUTES}
        )
    if wanted > longest:
        raise OutOfRange(
            field="minutes_wanted",
            accepted=_("At most %(most)d minutes: the one-on-one has no more for topics.")
            % {"most": longest},
        )
    least = least_of(wanted) if wording.minutes_least is None else wording.minutes_least
    if not 1 <= least <= wanted:
        raise OutOfRange(
            field="minutes_least",
            accepted=_("From 1 minute to the %(wanted)d wanted.") % {"wanted": wanted},
        )
    if wording.every_nth is not None and not 1 <= wording.every_nth <= 26:
        raise OutOfRange(field="every_nth", accepted=_("Every one-on-one up to every 26th."))
    return {
        "title": one_line(wording.title, field="title", most=TITLE),
        "detail": many_lines(wording.detail, field="detail", most=WORDS, required=False),
        "kind": wording.kind,
        "outcome_wanted": wording.outcome_wanted,
        "minutes_wanted": wanted,
        "minutes_least": least,
        "is_sensitive": wording.is_sensitive,
        "every_nth": wording.every_nth,
    }


@transaction.atomic
def add(
    *,
    line: Line,
    wording: Wording,
    actor: Person,
    now: dt.datetime,
    importance: str | None = None,
    must: bool = False,
    after: Iterable[Topic] = (),
    client_key: UUID | None = None,
) -> Topic:
    """Add a topic to the next meeting of a line.

    Before the order is issued it joins the others; afterwards it is marked late, takes free minutes if it
    moves nothing, and otherwise waits for the other side's yes. Refused: more than 60 that ask for time.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="topics.add", model=Topic)
    if earlier is not None:
        return earlier
    side = line.side_of(actor)
    if side is None or not line.is_open or line.start == Line.Start.ALONE:
        raise NotNow
    columns = _checked(wording, longest=placing.longest_topic(line=line, now=now))
    _check_room(line)
    topic = Topic(line=line, raiser=actor, side=side, created_at=now, changed_at=now, **columns)
    # The constraints are the database's to hold; asking it first costs a query each.
    topic.full_clean(exclude=["line", "raiser"], validate_unique=False, validate_constraints=False)
    topic.save(force_insert=True)
    if importance:
        importances.set_importance(topic=topic, level=importance, actor=actor, now=now)
    if earlier_topics := list(after):
        _set_after(topic, earlier_topics)
    placement = placing.place(topic=topic, now=now)
    if must and placement is not None:
        _set_must(placement, side)
    if placement is not None and placement.is_late:
        late_topics.take_late(placement=placement, actor=actor, now=now)
    idempotency.done(actor=actor, client_key=client_key, act="topics.add", subject=topic.pk, now=now)
    return topic


@transaction.atomic
def edit(
    *,
    topic: Topic,
    wording: Wording,
    version: int,
    actor: Person,
    now: dt.datetime,
    after: Iterable[Topic] | None = None,
) -> Plan | None:
    """Change a topic's words or minutes. Only its raiser does.

    In an issued order minutes are worked out again and places stay; minutes that push out another topic wait
    for the other side's yes, and then this gives the order they lead to, else None. Refused when it has
    changed since ``version`` was read, with the current words; and once it is finished or withdrawn.
    """
    if topic.raiser_id != actor.pk or topic.state not in (Topic.State.OPEN, Topic.State.PARKED):
        raise NotNow
    columns = _checked(wording, longest=placing.longest_topic(line=topic.line, now=now))
    was = {name: getattr(topic, name) for name in WEIGHED}
    changed = Topic.objects.filter(pk=topic.pk, version=version).update(
        **columns, changed_at=now, version=F("version") + 1
    )
    if not changed:
        current = Topic.objects.get(pk=topic.pk)
        raise Stale(theirs={"title": current.title, "detail": current.detail}, version=current.version)
    topic.refresh_from_db()
    if after is not None:
        _set_after(topic, list(after))
    placement = (
        topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).select_related("meeting__line").first()
    )
    if placement is None:
        return None
    wanted, least = topic.minutes_wanted, topic.minutes_least
    if (placement.minutes_wanted, placement.minutes_least) != (wanted, least):
        return late_topics.change_minutes(
            placement=placement, wanted=wanted, least=least, actor=actor, now=now
        )
    if after is not None or any(columns[name] != was[name] for name in WEIGHED):
        issuing.changed(meeting=placement.meeting, actor=actor, now=now, placement=placement)
    else:
        order_versions.touch(meeting=placement.meeting)
    return None


def _check_room(line: Line) -> None:
    """An agenda is planned for tens of topics, and nobody reads hundreds."""
    if Topic.objects.filter(line=line, state=Topic.State.OPEN).count() >= MOST_TOPICS:
        raise TooMany(
            field="title",
            accepted=_("At most %(most)d topics ask for time: park or withdraw one first.")
            % {"most": MOST_TOPICS},
        )


def _set_after(topic: Topic, earlier: list[Topic]) -> None:
    """Say which topics have to come before this one. Refused: other lines' topics, and a circle."""
    if any(other.line_id != topic.line_id or other.pk == topic.pk for other in earlier):
        raise OutOfRange(field="after", accepted=_("Other topics of this one-on-one."))
    wanted = {other.pk for other in earlier}
    if _reaches(wanted, topic.pk):
        raise Circle(field="after", accepted=_("Topics that do not, in turn, come after this one."))
    TopicAfter.objects.filter(topic=topic).exclude(earlier__in=wanted).delete()
    have = set(TopicAfter.objects.filter(topic=topic).values_list("earlier_id", flat=True))
    TopicAfter.objects.bulk_create(
        TopicAfter(topic=topic, earlier=other) for other in earlier if other.pk not in have
    )


def _reaches(level: set[UUID], goal: UUID) -> bool:
    """Whether ``goal`` is among the topics that those in ``level`` come after, directly or further back."""
    seen: set[UUID] = set()
    while level:
        if goal in level:
            return True
        seen |= level
        level = set(TopicAfter.objects.filter(topic__in=level).values_list("earlier_id", flat=True)) - seen
    return False


@transaction.atomic
def set_must(*, placement: Placement, must: bool, actor: Person, now: dt.datetime) -> Plan | None:
    """Mark the one topic a side wants discussed without fail, or take the mark away.

    In an issued order a topic without a place gets one, or waits for the other side's yes if it would
    displace something; then this gives the order it leads to, else None. Refused when what the other side
    must discuss leaves no room for it.
    """
    side = placement.meeting.line.side_of(actor)
    if side is None or placement.outcome != Placement.Outcome.UNDECIDED:
        raise NotNow
    if must:
        _set_must(placement, side)
    else:
        MustDiscuss.objects.filter(placement=placement, side=side).delete()
    if must and issuing.is_without_place(placement=placement):
        order_versions.touch(meeting=placement.meeting)
        return late_topics.bring_in(placement=placement, actor=actor, now=now)
    issuing.changed(meeting=placement.meeting, actor=actor, now=now, placement=placement)
    return None


def _set_must(placement: Placement, side: Side) -> None:
    MustDiscuss.objects.update_or_create(
        meeting=placement.meeting, side=side, defaults={"placement": placement}
    )


@transaction.atomic
def park(*, topic: Topic, actor: Person, now: dt.datetime) -> Topic:
    """Keep a topic on the list with no time asked. Either side may park what is not must-discuss."""
    _leave(topic, to=Topic.State.PARKED, actor=actor, now=now)
    return topic


@transaction.atomic
def unpark(*, topic: Topic, actor: Person, now: dt.datetime) -> Topic:
    """Ask time again for a parked topic. Refused: more than 60 that ask for time."""
    _check_room(topic.line)
    changed = Topic.objects.filter(pk=topic.pk, state=Topic.State.PARKED).update(
        state=Topic.State.OPEN, changed_at=now, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    topic.refresh_from_db()
    placement = placing.place(topic=topic, now=now)
    if placement is not None and placement.is_late:
        late_topics.take_late(placement=placement, actor=actor, now=now)
    return topic


@transaction.atomic
def withdraw(*, topic: Topic, actor: Person, now: dt.datetime) -> Topic:
    """Take one's own topic back. It is kept, and no longer asks for time."""
    if topic.raiser_id != actor.pk:
        raise NotNow
    _leave(topic, to=Topic.State.WITHDRAWN, actor=actor, now=now)
    return topic


def _leave(topic: Topic, *, to: Topic.State, actor: Person, now: dt.datetime) -> None:
    """Move a topic out of the agenda; a running topic and the other side's must-discuss stay."""
    placement = topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).select_related("meeting").first()
    if placement is not None:
        placing.check_may_leave(placement=placement, actor=actor)
    changed = (
        Topic.objects.filter(pk=topic.pk, state__in=(Topic.State.OPEN, Topic.State.PARKED))
        .exclude(state=to)
        .update(state=to, changed_at=now, version=F("version") + 1)
    )
    if not changed:
        raise NotNow
    topic.refresh_from_db()
    if placement is not None:
        placing.leave(placement=placement, actor=actor, now=now)
