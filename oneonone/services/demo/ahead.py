"""What lies on the coming agendas and lists of the demo, and somebody invited who has not joined."""

from __future__ import annotations

from typing import Any

from accounts.models import Person
from oneonone.models import Line, Meeting, Side
from oneonone.services.agenda import issuing
from oneonone.services.commitments import carrying, commitments
from oneonone.services.lines import lines
from oneonone.services.lines.lines import Invited
from oneonone.services.meetings import intervals, meetings

from .company import address_of
from .scenario import ZONE, Days
from .today import bring

BROUGHT = -3


def lay_out(coming: dict[str, Any], *, lines: dict[str, Line], cast: dict[str, Person], days: Days) -> None:
    """Put topics on the coming agendas and commitments on lists, and carry these on from the last meeting."""
    for number, row in enumerate(coming["topic"]):
        bring(
            lines[row["line"]],
            row,
            actor=cast[row["by"]],
            now=days.at(BROUGHT, 9, number),
            importance=row.get("importance"),
        )
    for row in coming["commitment"]:
        line = lines[row["line"]]
        commitments.take_on(
            line=line,
            owner_side=line.side_for(cast[row["owner"]]),
            action=row["action"],
            how_known=row["how"],
            date=days.on(row["due"]),
            actor=cast[row["by"]],
            now=days.at(row["made"], 8),
        )
    for meeting in Meeting.objects.filter(state=Meeting.State.CLOSED, carried_at__isnull=True):
        carrying.carry(meeting=meeting, now=meeting.closed_at or days.now)


def catch_up(*, days: Days) -> None:
    """Invite to and issue what was due before the first start, each at its own time."""
    open_lines = Meeting.objects.filter(line__ended_at__isnull=True, starts_at__gt=days.now)
    related = open_lines.select_related("line__manager", "line__report", "interval")
    for meeting in related.filter(
        state=Meeting.State.PLANNED, invited_at__isnull=True, invite_at__lte=days.now
    ):
        meetings.invite(meeting=meeting, actor=None, words="", now=meeting.invite_at)
    for meeting in related.filter(state=Meeting.State.PLANNED, issue_at__lte=days.now):
        issuing.issue(meeting=meeting, actor=None, now=meeting.issue_at)


def propose(row: dict[str, Any], *, lines: dict[str, Line], cast: dict[str, Person], days: Days) -> None:
    """A question of the report's that waits for the manager: another interval."""
    line = lines[row["line"]]
    now = days.at(row["day"], 12)
    terms = intervals.Terms(
        every=row["every"],
        unit=row["unit"],
        anchor=days.weekday_on(row["first"]),
        time=row["time"],
        minutes=row["minutes"],
        zone=ZONE,
        place=row["place"],
    )
    intervals.propose(line=line, terms=terms, actor=cast[row["by"]], now=now, today=days.on(row["day"]))


def invite(row: dict[str, Any], *, cast: dict[str, Person], days: Days) -> None:
    """A line with somebody who has been asked and has no account yet."""
    terms = intervals.Terms(
        every=row["every"],
        unit=row["unit"],
        anchor=days.weekday_on(row["first"]),
        time=row["time"],
        minutes=row["minutes"],
        zone=ZONE,
        place=row["place"],
    )
    lines.create(
        actor=cast[row["manager"]],
        now=days.at(row["day"], 9),
        today=days.on(row["day"]),
        terms=terms,
        manager=cast[row["manager"]],
        invited=Invited(name=row["name"], email=address_of(row["name"]), side=Side.REPORT),
    )
