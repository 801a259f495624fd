"""What moving a meeting or calling it off would mean, before anybody does it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Line, Meeting, Placement

from . import calendar, coming

DAYS_OFFERED = 5
# Where the interval gives no next date, offers are looked for this far after the present one.
REACH = dt.timedelta(days=60)


@dataclass(frozen=True)
class Offer:
    """A day near the present one on which both work, at the same time of day."""

    starts_at: dt.datetime
    day: dt.date
    time: dt.time
    is_free: bool


@dataclass(frozen=True)
class Consequence:
    """What calling a meeting off leaves behind.

    ``following`` is the day of the next one, ``silence`` the days from the last meeting held (or from the day
    the line began) to it; ``topics`` how many go there.
    """

    last_held: dt.date | None
    following: dt.date | None
    silence: int | None
    topics: int


def offers(reader: Person, meeting: Meeting, *, now: dt.datetime) -> tuple[Offer, ...]:
    """The working days of both nearest to the present one, before the next date of the interval.

    ``is_free`` is told by the reader's own other meetings only: whom the other side meets is theirs.
    """
    line, day = meeting.line, calendar.local_day(meeting.starts_at, meeting.zone)
    today = calendar.local_day(now, meeting.zone)
    before = calendar.next_day(meeting) or day + REACH
    after = _previous_day(meeting) or line.starts_on
    days = cadence.nearest_days(
        day,
        calendar.working_days(line, around=day),
        after=max(today - dt.timedelta(days=1), after),
        before=before,
        most=DAYS_OFFERED + 1,
    )
    time = cadence.local(meeting.starts_at, meeting.zone).time()
    starts = [(found, cadence.start_instant(found, time, meeting.zone)) for found in days if found != day]
    busy = _busy(reader, meeting, now)
    length = dt.timedelta(minutes=meeting.minutes)
    return tuple(
        Offer(
            starts_at=start,
            day=found,
            time=time,
            is_free=not any(start < ends and begins < start + length for begins, ends in busy),
        )
        for found, start in sorted([pair for pair in starts if pair[1] > now][:DAYS_OFFERED])
    )


def start_of(day: dt.date, time: dt.time, zone: str) -> dt.datetime:
    """The instant of a day and a clock time in a zone; a time that the clocks skip moves forward."""
    return cadence.start_instant(day, time, zone)


def _previous_day(meeting: Meeting) -> dt.date | None:
    row = meeting.line.meetings.filter(starts_at__lt=meeting.starts_at).order_by("-starts_at").first()
    return calendar.local_day(row.starts_at, row.zone) if row is not None else None


def _busy(reader: Person, meeting: Meeting, now: dt.datetime) -> list[tuple[dt.datetime, dt.datetime]]:
    rows = (
        Meeting.objects.visible_to(reader)
        .filter(state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED), starts_at__gt=now)
        .exclude(pk=meeting.pk)
        .values_list("starts_at", "minutes")
    )
    return [(starts_at, starts_at + dt.timedelta(minutes=minutes)) for starts_at, minutes in rows]


def if_called_off(meeting: Meeting, *, now: dt.datetime) -> Consequence:
    """What there would be instead of this meeting."""
    line = meeting.line
    last = coming.last_held(line, before=meeting)
    following = _following(line, meeting, now)
    since = last.held_on if last is not None and last.held_on is not None else line.starts_on
    topics = meeting.placements.filter(Q(outcome=Placement.Outcome.UNDECIDED)).count()
    return Consequence(
        last_held=last.held_on if last is not None else None,
        following=following,
        silence=(following - since).days if following is not None else None,
        topics=topics,
    )


def _following(line: Line, meeting: Meeting, now: dt.datetime) -> dt.date | None:
    later = Meeting.objects.coming().filter(line=line, starts_at__gt=meeting.starts_at, starts_at__gte=now)
    row = later.exclude(pk=meeting.pk).order_by("starts_at").first()
    if row is not None:
        return calendar.local_day(row.starts_at, row.zone)
    day = calendar.local_day(meeting.starts_at, meeting.zone)
    interval = meeting.interval or calendar.in_force(calendar.intervals_of(line), day)
    if interval is None:
        return None
    after = max(day, meeting.nominal_date or day)
    occurrence = calendar.coming_date(line, interval, after=after, now=now, pauses=list(line.pauses.all()))
    return occurrence.day if occurrence is not None else None
