"""What a past meeting was spent on: the topics with room in it, in the planner's order, and their minutes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import cycle
from typing import Any

from oneonone import planner
from oneonone.models import Line, Meeting, Order, Placement, Side, Topic
from oneonone.selectors.agenda import duration_history, frame
from oneonone.services.agenda import topics

MINUTE = dt.timedelta(minutes=1)
ARRIVED = frame.ARRIVE_MINUTES * MINUTE
MOST = 4


@dataclass(frozen=True)
class Talk:
    """A topic of a meeting, what the scenario tells of it, and how many minutes it took."""

    told: dict[str, Any]
    took: int
    placement: Placement


class Talks:
    """The topics of the scenario, dealt out in turn to one meeting after the other."""

    def __init__(self, rows: list[dict[str, Any]]) -> None:
        runs = [cycle(row["took"]) for row in rows]
        self._dealt = ((row, next(run)) for row, run in cycle(zip(rows, runs, strict=True)))
        self._next = next(self._dealt)

    def of(self, meeting: Meeting, line: Line) -> tuple[Order, list[Talk]]:
        """The order issued for a meeting, and its talks in that order, each begun as the one before ended."""
        room = planner.Frame(
            minutes=meeting.minutes,
            opening=frame.ARRIVE_MINUTES,
            closing=frame.closing_minutes(meeting.minutes),
        )
        by_key = {str(talk.placement.pk): talk for talk in self._brought(meeting, line, room)}
        plan = planner.plan([_item(talk.placement) for talk in by_key.values()], room)
        order = Order(
            meeting=meeting,
            number=1,
            cause=Order.Cause.ISSUED,
            at=meeting.issue_at,
            opening=room.opening,
            closing=room.closing,
            plan=planner.to_json(plan),
        )
        talks = [by_key[key] for key in plan.keys]
        _time(talks, order, begin=meeting.starts_at + ARRIVED)
        return order, talks

    def _brought(self, meeting: Meeting, line: Line, around: planner.Frame) -> Iterator[Talk]:
        """Talks as long as there is room for what the next one asks, and for what it will take."""
        room = around.room
        asked = taken = 0
        for _number in range(MOST):
            told, took = self._next
            asked, taken = asked + topics.USUAL_MINUTES[told["kind"]], taken + took
            if max(asked, taken) > room:
                return
            yield Talk(told, took, _placement(told, meeting, line))
            self._next = next(self._dealt)


def _placement(told: dict[str, Any], meeting: Meeting, line: Line) -> Placement:
    person = line.person_on(Side(told["side"]))
    if person is None:
        raise LookupError("the lines of the demo are joined")
    minutes = topics.USUAL_MINUTES[told["kind"]]
    topic = Topic(
        line=line,
        raiser=person,
        side=told["side"],
        title=told["title"],
        kind=told["kind"],
        minutes_wanted=minutes,
        minutes_least=topics.least_of(minutes),
        state=Topic.State.FINISHED,
        created_at=meeting.invite_at,
        changed_at=meeting.starts_at,
        version=2,
    )
    return Placement(
        topic=topic,
        meeting=meeting,
        minutes_wanted=minutes,
        minutes_least=topic.minutes_least,
        outcome=Placement.Outcome.DISCUSSED,
        added_at=topic.created_at,
    )


def _item(placement: Placement) -> planner.Item:
    topic = placement.topic
    weight = planner.weigh(manager=None, report=None, raiser=topic.side, kind=topic.kind)
    return planner.Item(
        key=str(placement.pk),
        side=topic.side,
        wanted=placement.minutes_wanted,
        least=placement.minutes_least,
        worth=weight.worth,
        rank=weight.rank,
    )


def _time(talks: Iterable[Talk], order: Order, *, begin: dt.datetime) -> None:
    clock = begin
    for talk in talks:
        placement = talk.placement
        placement.minutes_planned = duration_history.planned_minutes(order, str(placement.pk))
        placement.began_at = placement.topic.changed_at = clock
        clock += talk.took * MINUTE
        placement.ended_at = clock
