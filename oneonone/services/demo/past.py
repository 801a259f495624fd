"""Meetings of the past, laid down as rows: hundreds of them, none of which has anything left to do."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import cycle
from typing import Any
from uuid import uuid4

from accounts.models import Person
from oneonone import cadence, planner
from oneonone.models import (
    Interval,
    Line,
    Meeting,
    Move,
    Order,
    Placement,
    RecordLine,
    Row,
    Seen,
    Side,
    Snapshot,
    Topic,
)
from oneonone.selectors import calendar
from oneonone.selectors import plan as plans
from oneonone.services import coming, topics

from .scenario import ZONE

MINUTE = dt.timedelta(minutes=1)
ARRIVED = plans.ARRIVE_MINUTES * MINUTE
MOVED_BY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Planned:
    """A date of a line's grid in the past, and what became of it: held, moved, called off, not held.

    The latest one held is still to be carried from, and to be looked at.
    """

    line: Line
    interval: Interval
    nominal: dt.date
    day: dt.date
    became: str
    workdays: cadence.Workdays
    is_latest: bool


class Past:
    """Collects the rows of past meetings and stores them a table at a time."""

    def __init__(self, talks: list[dict[str, Any]]) -> None:
        self._talks = cycle(talks)
        self._rows: dict[type[Row], list[Row]] = {
            model: [] for model in (Meeting, Move, Topic, Placement, Order, RecordLine, Snapshot, Seen)
        }

    def store(self) -> None:
        """Store what was added, in the order in which the tables point at each other."""
        for model, rows in self._rows.items():
            model._default_manager.bulk_create(rows)

    def add(self, planned: Planned) -> None:
        meeting = _meeting(planned)
        self._keep(meeting)
        if planned.became == "called_off":
            meeting.state = Meeting.State.CALLED_OFF
            meeting.called_off_at = meeting.carried_at = meeting.starts_at - dt.timedelta(days=1)
            meeting.called_off_by = planned.line.manager
        elif planned.became == "not_held":
            meeting.state = Meeting.State.NOT_HELD
            meeting.given_up_at = meeting.carried_at = meeting.starts_at + dt.timedelta(days=5)
        else:
            if planned.became == "moved":
                self._move(meeting, planned)
            self._hold(meeting, planned)

    def _keep(self, *rows: Row) -> None:
        for row in rows:
            self._rows[type(row)].append(row)

    def _move(self, meeting: Meeting, planned: Planned) -> None:
        before, after = meeting.starts_at, meeting.starts_at + MOVED_BY
        for name, value in _instants(planned, planned.day + MOVED_BY).items():
            setattr(meeting, name, value)
        meeting.schedule_version, meeting.calendar_sequence = 2, 1
        asked = before - dt.timedelta(days=2)
        self._keep(Move(meeting=meeting, from_start=before, to_start=after, by=planned.line.report, at=asked))

    def _hold(self, meeting: Meeting, planned: Planned) -> None:
        meeting.state = Meeting.State.CLOSED
        meeting.began_at = meeting.starts_at + MINUTE
        meeting.ended_at = meeting.closed_at = meeting.starts_at + (meeting.minutes - 2) * MINUTE
        meeting.held_on = calendar.local_day(meeting.starts_at, meeting.zone)
        meeting.carried_at = None if planned.is_latest else meeting.closed_at
        placement, written = self._talk(meeting, planned.line)
        rows = {
            "lines": [[str(row.pk), 1] for row in written],
            "commitments": [],
            "placements": [
                [str(placement.pk), str(placement.topic_id), placement.topic.version, "discussed"]
            ],
            "order": 1,
        }
        self._keep(Snapshot(meeting=meeting, by=planned.line.manager, at=meeting.closed_at, rows=rows))
        if not planned.is_latest:
            for side in Side:
                person = _on(planned.line, side)
                self._keep(Seen(meeting=meeting, side=side, by=person, at=meeting.record_at))

    def _talk(self, meeting: Meeting, line: Line) -> tuple[Placement, list[RecordLine]]:
        """The topic that was discussed, the order it was in, and what was written down."""
        talk = next(self._talks)
        topic = _topic(talk, line, asked=meeting.invite_at, heard=meeting.starts_at + ARRIVED)
        placement = Placement(
            topic=topic,
            meeting=meeting,
            minutes_wanted=topic.minutes_wanted,
            minutes_least=topic.minutes_least,
            outcome=Placement.Outcome.DISCUSSED,
            added_at=topic.created_at,
            began_at=meeting.starts_at + ARRIVED,
            ended_at=meeting.starts_at + ARRIVED + topic.minutes_wanted * MINUTE,
        )
        written = [
            RecordLine(
                meeting=meeting,
                placement=placement,
                author=_on(line, Side(talk["by"] if kind == "said" else "manager")),
                kind=kind,
                words=talk[kind],
                at=meeting.starts_at + ARRIVED + 2 * MINUTE,
            )
            for kind in ("said", "decided")
            if kind in talk
        ]
        self._keep(topic, placement, _order(meeting, placement), *written)
        return placement, written


def _meeting(planned: Planned) -> Meeting:
    """The meeting as it was planned, invited to and issued."""
    interval, instants = planned.interval, _instants(planned, planned.day)
    return Meeting(
        line=planned.line,
        interval=interval,
        nominal_date=planned.nominal,
        occurrence_key=f"{interval.pk}:{planned.nominal.isoformat()}",
        minutes=interval.minutes,
        zone=ZONE,
        place=interval.place,
        uid=str(uuid4()),
        created_at=instants["invite_at"],
        invited_at=instants["invite_at"],
        issued_at=instants["issue_at"],
        confirmed_at=instants["issue_at"],
        **instants,
    )


def _instants(planned: Planned, day: dt.date) -> dict[str, dt.datetime]:
    interval = planned.interval
    rule = calendar.rule_of(interval)
    return coming.starts_and_instants(
        cadence.instants(
            day,
            interval.time,
            interval.zone,
            interval.minutes,
            planned.workdays,
            calendar.notice_of(planned.line, rule),
        )
    )


def _topic(talk: dict[str, Any], line: Line, *, asked: dt.datetime, heard: dt.datetime) -> Topic:
    minutes = topics.USUAL_MINUTES[talk["kind"]]
    return Topic(
        line=line,
        raiser=_on(line, Side(talk["side"])),
        side=talk["side"],
        title=talk["title"],
        kind=talk["kind"],
        minutes_wanted=minutes,
        minutes_least=topics.least_of(minutes),
        state=Topic.State.FINISHED,
        created_at=asked,
        changed_at=heard,
        version=2,
    )


def _order(meeting: Meeting, placement: Placement) -> Order:
    frame = planner.Frame(
        minutes=meeting.minutes,
        opening=plans.ARRIVE_MINUTES,
        closing=plans.closing_minutes(meeting.minutes),
    )
    item = planner.Item(
        key=str(placement.pk),
        side=placement.topic.side,
        wanted=placement.minutes_wanted,
        least=placement.minutes_least,
        worth=planner.worth(manager="in_turn", report="in_turn", kind=placement.topic.kind),
    )
    return Order(
        meeting=meeting,
        number=1,
        cause=Order.Cause.ISSUED,
        at=meeting.issue_at,
        opening=frame.opening,
        closing=frame.closing,
        plan=planner.to_json(planner.plan((item,), frame)),
    )


def _on(line: Line, side: Side) -> Person:
    person = line.person_on(side)
    if person is None:
        raise LookupError("the lines of the demo are joined")
    return person
