"""Free times to which a meeting can move, and the consequences of calling it off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from uuid import UUID

from django.db.models import Q

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Line, Meeting, Placement
from oneonone.selectors.dates import coming_meetings, line_calendar, occupied_times
from oneonone.selectors.dates.occupied_times import Taken

DAYS_OFFERED, DAYS_TRIED = 6, 40
DAY, HALF_HOUR = dt.timedelta(days=1), dt.timedelta(minutes=30)
# Where the interval gives no next date, offers are looked for this far after the present one.
REACH = dt.timedelta(days=60)


@dataclass(frozen=True)
class Offer:
    """A free time of the reader near the planned one, on a day on which both work.

    ``day`` and ``time`` are in the meeting's zone.
    """

    starts_at: dt.datetime
    day: dt.date
    time: dt.time


@dataclass(frozen=True)
class Consequence:
    """The consequences of calling a meeting off.

    ``following`` is the day of the next one, ``silence`` the days not paused from the last meeting held (or
    from the day the line began) to it, ``over`` how many of these are past the interval that both agreed;
    ``topics`` how many go there.
    """

    last_held: dt.date | None
    following: dt.date | None
    silence: int | None
    over: int
    topics: int


@dataclass(frozen=True)
class _Room:
    """The days between which a meeting can move (exclusive), and on which of them both work."""

    after: dt.date
    before: dt.date
    days: cadence.Workdays


def offers(reader: Person, meeting: Meeting, *, now: dt.datetime) -> tuple[Offer, ...]:
    """The nearest free times of one meeting; see ``offers_for``."""
    return offers_for(reader, [meeting], now=now)[meeting.pk]


def offers_for(
    reader: Person, meetings: Sequence[Meeting], *, now: dt.datetime
) -> dict[UUID, tuple[Offer, ...]]:
    """The nearest free times, one a day, before the next date of the interval. Constant number of queries.

    The days are the nearest ones on which both work, the planned day included. The time is the planned time
    of day. If the reader is not free then, it is the nearest free half hour in the working hours of both
    zones. Only the reader's own meetings and calendar are considered, because the result would otherwise
    reveal when the other side is busy.
    """
    if not meetings:
        return {}
    has, rooms = occupied_times.of(reader, now=now), _rooms(meetings, now=now)
    return {meeting.pk: _offers(meeting, rooms[meeting.pk], has, now) for meeting in meetings}


def _offers(meeting: Meeting, room: _Room, has: Taken, now: dt.datetime) -> tuple[Offer, ...]:
    zone = meeting.zone
    wanted = line_calendar.local_day(meeting.starts_at, zone)
    near = cadence.nearest_days(wanted, room.days, room.after, room.before, most=DAYS_TRIED)
    free = (start for day in near if (start := _free_on(day, meeting, has, now)) is not None)
    return tuple(
        Offer(start, line_calendar.local_day(start, zone), cadence.local(start, zone).time())
        for start in sorted(islice(free, DAYS_OFFERED))
    )


def _rooms(meetings: Sequence[Meeting], *, now: dt.datetime) -> dict[UUID, _Room]:
    each = {
        person.pk: person
        for meeting in meetings
        for person in (meeting.line.manager, meeting.line.report)
        if person
    }
    first = min(line_calendar.local_day(meeting.starts_at, meeting.zone) for meeting in meetings)
    works = line_calendar.working_days_of_each(list(each.values()), around=first)
    of_person = dict(zip(each, works, strict=True))
    others: dict[UUID, list[Meeting]] = {}
    rows = Meeting.objects.filter(line__in={meeting.line_id for meeting in meetings})
    for row in rows.order_by("starts_at").only("line", "starts_at", "zone", "state", "is_extra"):
        others.setdefault(row.line_id, []).append(row)
    return {meeting.pk: _room(meeting, others[meeting.line_id], of_person, now=now) for meeting in meetings}


def _room(
    meeting: Meeting,
    others: Sequence[Meeting],
    works: Mapping[UUID, cadence.WorkingDays],
    *,
    now: dt.datetime,
) -> _Room:
    line = meeting.line
    sides = [works[person.pk] for person in (line.manager, line.report) if person]
    days = cadence.common(sides[0], sides[-1])
    before = [one for one in others if one.starts_at < meeting.starts_at]
    after = [
        one for one in others if one.starts_at > meeting.starts_at and one.is_coming and not one.is_extra
    ]
    last = line_calendar.local_day(before[-1].starts_at, before[-1].zone) if before else line.starts_on
    following = [line_calendar.local_day(one.starts_at, one.zone) for one in after[:1]]
    if (grid := _next_grid_day(meeting, days)) is not None:
        following.append(grid)
    own_day = line_calendar.local_day(meeting.starts_at, meeting.zone)
    yesterday = line_calendar.local_day(now, meeting.zone) - DAY
    return _Room(max(yesterday, last), min(following, default=own_day + REACH), days)


def _next_grid_day(meeting: Meeting, days: cadence.Workdays) -> dt.date | None:
    if meeting.interval is None or meeting.nominal_date is None:
        return None
    nominal = meeting.nominal_date
    rule = line_calendar.rule_of(meeting.interval)
    found = cadence.occurrences(rule, days, nominal, nominal + line_calendar.HORIZON)
    return next((occurrence.day for occurrence in found if occurrence.day is not None), None)


def _free_on(day: dt.date, meeting: Meeting, has: Taken, now: dt.datetime) -> dt.datetime | None:
    """The free start on a day that is nearest to the planned time of day; None if the day is full."""
    length = dt.timedelta(minutes=meeting.minutes)
    usual = cadence.start_instant(day, cadence.local(meeting.starts_at, meeting.zone).time(), meeting.zone)
    zones = {meeting.zone, *(person.zone for person in (meeting.line.manager, meeting.line.report) if person)}
    if _may_start(usual, length, meeting, has, now):
        return usual
    midnight = cadence.start_instant(day, dt.time(), meeting.zone)
    starts = [midnight + HALF_HOUR * n for n in range(48)]
    fitting = [
        start
        for start in starts
        if all(occupied_times.in_hours(start, length, zone) for zone in zones)
        and _may_start(start, length, meeting, has, now)
    ]
    return min(fitting, key=lambda start: (abs(start - usual), start), default=None)


def _may_start(
    start: dt.datetime, length: dt.timedelta, meeting: Meeting, has: Taken, now: dt.datetime
) -> bool:
    """Whether the meeting can begin then. Its planned time itself does not count as free."""
    own_end = meeting.starts_at + length
    return (
        start > now
        and not (start < own_end and meeting.starts_at < start + length)
        and not has.by(start, start + length)
    )


def start_of(day: dt.date, time: dt.time, zone: str) -> dt.datetime:
    """The instant of a local day and time in a zone. A time skipped by a clock change moves forward."""
    return cadence.start_instant(day, time, zone)


def if_called_off(meeting: Meeting, *, now: dt.datetime) -> Consequence:
    """The consequences of calling this meeting off now."""
    line = meeting.line
    last = coming_meetings.last_held(line, before=meeting)
    held = last.held_on if last is not None else None
    following = _following(line, meeting, now)
    then = None if following is None else _standing_on(line, held, following)
    return Consequence(
        last_held=held,
        following=following,
        silence=None if then is None else then.silence,
        over=0 if then is None else _past(then, following),
        topics=meeting.placements.filter(Q(outcome=Placement.Outcome.UNDECIDED)).count(),
    )


def _past(then: cadence.Standing, day: dt.date | None) -> int:
    """The days past the interval; for a line that never met, the days since its first interval ended."""
    if then.kind == "never met" and then.due is not None and day is not None:
        return max(0, (day - then.due).days)
    return then.days if then.kind == "over" else 0


def _standing_on(line: Line, held: dt.date | None, day: dt.date) -> cadence.Standing:
    """The line's standing on ``day`` if no other meeting is held before it."""
    agreed = [
        cadence.Agreement(interval.effective_from, line_calendar.rule_of(interval))
        for interval in line_calendar.intervals_of(line)
        if interval.agreed_at is not None
    ]
    pauses = [cadence.Pause(first, last) for first, last in line.pauses.values_list("first", "last")]
    return cadence.standing(agreed, [held] if held else [], line.starts_on, day, pauses)


def _following(line: Line, meeting: Meeting, now: dt.datetime) -> dt.date | None:
    later = Meeting.objects.coming().filter(line=line, starts_at__gt=meeting.starts_at, starts_at__gte=now)
    row = later.exclude(pk=meeting.pk).order_by("starts_at").first()
    if row is not None:
        return line_calendar.local_day(row.starts_at, row.zone)
    interval = line_calendar.grid_of(line, now=now)
    if interval is None:
        return None
    after = line_calendar.last_day_taken(line, interval, now=now)
    occurrence = line_calendar.coming_date(
        line, interval, after=after, now=now, pauses=list(line.pauses.all())
    )
    return occurrence.day if occurrence is not None else None
