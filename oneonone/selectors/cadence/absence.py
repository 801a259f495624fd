"""What falls on a person's days away, on all their lines at once, and where each of it could go."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from accounts.models import DayAway, Person
from oneonone.models import Meeting
from oneonone.selectors.dates import line_calendar, move_options, time_proposals
from oneonone.selectors.dates.move_options import Offer
from oneonone.selectors.dates.time_proposals import WaitingTime


@dataclass(frozen=True)
class Falling:
    """One meeting on the days away, the nearest times that are free for the reader, and what is proposed."""

    meeting: Meeting
    other: str
    joined: bool
    offers: tuple[Offer, ...]
    proposed: tuple[WaitingTime, ...]


def falling_on(reader: Person, away: DayAway, *, now: dt.datetime) -> tuple[Meeting, ...]:
    """The reader's meetings that have not begun and fall on these days, by the clock of their lines.

    Those that nobody was invited to have moved out of the way by themselves and are not among them.
    """
    # A day of a line's zone can begin or end up to a day from the same date in UTC.
    first = dt.datetime.combine(away.first - dt.timedelta(days=1), dt.time(), tzinfo=dt.UTC)
    until = dt.datetime.combine(away.last + dt.timedelta(days=2), dt.time(), tzinfo=dt.UTC)
    rows = (
        Meeting.objects.visible_to(reader)
        .filter(
            state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED),
            starts_at__gt=max(now, first),
            starts_at__lt=until,
        )
        .select_related("line__manager", "line__report", "interval")
        .order_by("starts_at", "pk")
    )
    return tuple(
        meeting
        for meeting in rows
        if away.first <= line_calendar.local_day(meeting.starts_at, meeting.zone) <= away.last
    )


def with_offers(reader: Person, away: DayAway, *, now: dt.datetime) -> tuple[Falling, ...]:
    """The same, each with where it could go."""
    found = []
    meetings = falling_on(reader, away, now=now)
    offers = move_options.offers_for(reader, meetings, now=now)
    proposed = time_proposals.at_meetings(reader, meetings, now=now)
    for meeting in meetings:
        side = meeting.line.side_for(reader)
        found.append(
            Falling(
                meeting,
                meeting.line.name_on(side.other),
                meeting.line.person_on(side.other) is not None,
                offers[meeting.pk],
                proposed.get(meeting.pk, ()),
            )
        )
    return tuple(found)
