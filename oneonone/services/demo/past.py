"""Meetings of the past, laid down as rows: hundreds of them, none of which has anything left to do."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from oneonone import cadence
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
from oneonone.selectors.dates import line_calendar
from oneonone.services.meetings import coming_meetings

from .scenario import ZONE
from .talks import MINUTE, Talk, Talks

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
        self._talks = Talks(talks)
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
        meeting.held_on = line_calendar.local_day(meeting.starts_at, meeting.zone)
        meeting.carried_at = None if planned.is_latest else meeting.closed_at
        order, told = self._talks.of(meeting, planned.line)
        written = [row for talk in told for row in _written(talk, planned.line)]
        placements = [talk.placement for talk in told]
        rows = {
            "lines": [[str(row.pk), 1] for row in written],
            "commitments": [],
            "placements": [
                [str(one.pk), str(one.topic_id), one.topic.version, "discussed"] for one in placements
            ],
            "order": 1,
        }
        self._keep(*(one.topic for one in placements), *placements, order, *written)
        self._keep(Snapshot(meeting=meeting, by=planned.line.manager, at=meeting.closed_at, rows=rows))
        if not planned.is_latest:
            for side in Side:
                person = planned.line.person_on(side)
                self._keep(Seen(meeting=meeting, side=side, by=person, at=meeting.record_at))


def _written(talk: Talk, line: Line) -> list[RecordLine]:
    """What was written down of a topic, two minutes into it."""
    placement, told = talk.placement, talk.told
    if placement.began_at is None:
        raise LookupError("a talk has been timed")
    return [
        RecordLine(
            meeting=placement.meeting,
            placement=placement,
            author=line.person_on(Side(told["by"] if kind == "said" else "manager")),
            kind=kind,
            words=told[kind],
            at=placement.began_at + 2 * MINUTE,
        )
        for kind in ("said", "decided")
        if kind in told
    ]


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
    rule = line_calendar.rule_of(interval)
    return coming_meetings.starts_and_instants(
        cadence.instants(
            day,
            interval.time,
            interval.zone,
            interval.minutes,
            planned.workdays,
            line_calendar.notice_of(planned.line, rule),
        )
    )
