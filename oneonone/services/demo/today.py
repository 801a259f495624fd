"""The line of Ines and Tomas, told by the services themselves: three meetings held, and one for this very
day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Placement, Topic
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.services.agenda import importance as importances
from oneonone.services.agenda import issuing, topics
from oneonone.services.commitments import carrying, commitments
from oneonone.services.lines import lines
from oneonone.services.meetings import intervals, meetings
from oneonone.services.private import margin
from oneonone.services.record import record

from .scenario import ZONE, Days, moment

# In the morning the usual time of the line still lies ahead. Later in the day the meeting was moved, and at
# night it may have begun a little while ago: it is for this very day, whenever somebody looks.
MORNING = dt.time(8, 30)
LATEST = dt.time(23, 0)
AHEAD = HOUR = dt.timedelta(hours=1)
MINUTE = dt.timedelta(minutes=1)
QUARTER = 15
BROUGHT, MOVED, NOTED = -9, -6, -2


@dataclass
class Told:
    """The line, and what has been made on it by the keys of the scenario."""

    line: Line
    cast: dict[str, Person]
    days: Days
    topics: dict[str, Topic] = field(default_factory=dict)
    commitments: dict[str, Commitment] = field(default_factory=dict)


def tell(story: dict[str, Any], *, cast: dict[str, Person], days: Days) -> Line:
    """Live through the line's year, act after act, up to the order issued for today."""
    row = story["line"]
    terms = intervals.Terms(
        every=row["every"],
        unit=row["unit"],
        anchor=days.on(row["first"]),
        time=row["time"],
        minutes=row["minutes"],
        zone=ZONE,
        place=row["place"],
    )
    made = lines.create(
        actor=cast["nils"],
        now=days.at(row["began"], 9),
        today=days.on(row["began"]),
        terms=terms,
        manager=cast[row["manager"]],
        report=cast[row["report"]],
    )
    told = Told(made.line, cast, days)
    ends = [*(held["day"] for held in story["held"][1:]), 0]
    for held, until in zip(story["held"], ends, strict=True):
        _hold(held, told)
        for day, settle in sorted(_settlements(story, told, held["day"], until), key=lambda one: one[0]):
            settle(days.at(day, 17))
    _plan_today(story, told)
    return told.line


def start_of_today(now: dt.datetime, usual: dt.time) -> dt.datetime:
    """When today's meeting starts: at its usual time if that lies well ahead, else in an hour or a little
    more, on a quarter of an hour, and at eleven at night at the latest.
    """
    local = now.astimezone(ZoneInfo(ZONE))
    if local.time() < MORNING:
        return moment(local.date(), usual)
    latest = moment(local.date(), LATEST)
    soon = now + AHEAD
    soon += MINUTE * (-soon.minute % QUARTER)
    return min(soon.replace(second=0, microsecond=0), latest)


def _hold(held: dict[str, Any], told: Told) -> None:
    meeting = _coming(told.line)
    _bring(held["topic"], told, day=held["day"] - 7)
    issuing.issue(meeting=meeting, actor=None, now=meeting.issue_at)
    meetings.start(meeting=meeting, actor=told.cast["ines"], now=meeting.starts_at)
    clock = meeting.starts_at + 4 * MINUTE
    for placement, took in _heard(held, meeting, told):
        meetings.go_on(meeting=meeting, to=placement, continues=False, actor=told.cast["ines"], now=clock)
        _write(held, placement, told, now=clock + 2 * MINUTE)
        clock += took * MINUTE
    meetings.go_on(meeting=meeting, to=None, continues=False, actor=told.cast["ines"], now=clock)
    for row in held.get("commitment", ()):
        _take_on(row, meeting, told, now=clock)
    meetings.close(meeting=meeting, actor=told.cast["ines"], now=clock + 4 * MINUTE)
    carrying.carry(meeting=meeting, now=clock + 4 * MINUTE)
    for person in (told.cast["ines"], told.cast["tomas"]):
        record.mark_seen(meeting=meeting, actor=person, now=meeting.record_at)


def _coming(line: Line) -> Meeting:
    meeting = coming_selector.earliest(line)
    if meeting is None:
        raise LookupError("the line of today has no coming meeting")
    return meeting


def _bring(rows: list[dict[str, Any]], told: Told, *, day: int) -> None:
    for number, row in enumerate(rows):
        importance = row.get("importance")
        topic = bring(
            told.line,
            row,
            actor=told.cast[row["by"]],
            now=told.days.at(day, 15, number),
            importance=importance if isinstance(importance, str) else None,
        )
        told.topics[row.get("key", row["title"])] = topic
        if isinstance(importance, dict):
            for key, level in importance.items():
                importances.set_importance(
                    topic=topic, level=level, actor=told.cast[key], now=told.days.at(day, 16)
                )


def bring(
    line: Line, row: dict[str, Any], *, actor: Person, now: dt.datetime, importance: str | None
) -> Topic:
    """A topic of the scenario on the line's coming agenda."""
    wording = topics.Wording(
        title=row["title"],
        kind=row["kind"],
        detail=row.get("detail", ""),
        outcome_wanted=row.get("outcome", Topic.Outcome.INFORM),
        minutes_wanted=row.get("minutes"),
        every_nth=row.get("every"),
    )
    return topics.add(
        line=line,
        wording=wording,
        actor=actor,
        now=now,
        importance=importance,
        must=row.get("must", False),
    )


def _heard(held: dict[str, Any], meeting: Meeting, told: Told) -> Iterator[tuple[Placement, int]]:
    """The topics of that day which were reached, in the order of the scenario, and the minutes each took."""
    for row in held["topic"]:
        if not row.get("unheard"):
            topic = told.topics[row.get("key", row["title"])]
            placement = meeting.placements.select_related("topic").get(topic=topic)
            yield placement, row.get("took", placement.minutes_wanted)


def _write(held: dict[str, Any], placement: Placement, told: Told, *, now: dt.datetime) -> None:
    for number, row in enumerate(held["line"]):
        if told.topics[row["topic"]].pk == placement.topic_id:
            record.write(
                meeting=placement.meeting,
                placement=placement,
                kind=row["kind"],
                words=row["words"],
                actor=told.cast[row["by"]],
                now=now + number * MINUTE,
            )


def _take_on(row: dict[str, Any], meeting: Meeting, told: Told, *, now: dt.datetime) -> None:
    owner = told.line.side_for(told.cast[row["owner"]])
    topic = told.topics.get(row.get("topic", ""))
    told.commitments[row["key"]] = commitments.take_on(
        line=told.line,
        owner_side=owner,
        action=row["action"],
        how_known=row["how"],
        date=told.days.on(row["due"]),
        actor=told.cast[row["by"]],
        now=now,
        meeting=meeting,
        placement=None if topic is None else meeting.placements.get(topic=topic),
    )


def _settlements(story: dict[str, Any], told: Told, after: int, until: int) -> Iterator[tuple[int, Any]]:
    """What was done or dropped between two meetings: the day, and the act that waits for its instant."""
    rows = [row for held in story["held"] for row in held.get("commitment", ())]
    for act, name in ((commitments.done, "done"), (commitments.drop, "dropped")):
        for row in rows:
            if name in row and after < row[name] <= until:

                def settle(now: dt.datetime, act: Any = act, row: dict[str, Any] = row) -> None:
                    commitment = told.commitments[row["key"]]
                    commitment.refresh_from_db()
                    act(commitment=commitment, actor=told.cast[row["owner"]], now=now)

                yield row[name], settle


def _plan_today(story: dict[str, Any], told: Told) -> None:
    """Ask for topics, move the meeting if the day is late, issue the order, and prepare for it."""
    meeting, ines, days = _coming(told.line), told.cast["ines"], told.days
    asked = meeting.invite_at - HOUR
    meetings.invite(meeting=meeting, actor=ines, words=story["words"]["invitation"], now=asked)
    _bring(story["topic"], told, day=days.weekday_to(BROUGHT))
    start = start_of_today(days.now, story["line"]["time"])
    if start != meeting.starts_at:
        meetings.move(meeting=meeting, starts_at=start, actor=ines, now=days.at(days.weekday_to(MOVED), 16))
    issuing.issue(meeting=meeting, actor=None, now=meeting.issue_at)
    noted = days.weekday_to(NOTED)
    for row in story["note"]:
        topic = told.topics.get(row.get("topic", ""))
        margin.write(
            topic=topic,
            meeting=meeting if topic is None else None,
            words=row["words"],
            unclear=row.get("unclear", False),
            revision=0,
            actor=told.cast[row["by"]],
            now=days.at(noted, 18),
            today=days.on(noted),
        )
