"""Times for the one-on-ones of a manager that are due in the coming weeks, found for all lines at once.

A meeting is due for each line whose interval ends within these weeks, unless a date is confirmed by then. It
can be on days on which both work, in the working hours of both zones, where the manager has no other
one-on-one and no busy time in their own calendar. The manager's days are cut into blocks as long as the
longest of these meetings, one meeting a block. So no two meetings overlap, and ``cadence.place_meetings`` can
find the optimum. The cost of a time is its distance from the agreed day and time, and how full its day is.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Interval, Line, Meeting
from oneonone.selectors.cadence import lines_below
from oneonone.selectors.cadence.lines_below import Row
from oneonone.selectors.dates import line_calendar, occupied_times
from oneonone.selectors.dates.occupied_times import Taken

Reason = Literal["as agreed", "other time", "other day", "overdue"]
Obstacle = Literal["", "away", "busy", "meeting", "spread"]

WEEKS = 4
HALF_HOUR, QUARTER = dt.timedelta(minutes=30), dt.timedelta(minutes=15)
DAY = dt.timedelta(days=1)
# One day off the agreed day costs as much as four hours off the agreed time, or twice as much as a second
# meeting on a day. Leaving a line out costs more than everything else together.
PER_DAY, PER_HALF_HOUR, CROWDING, UNPLACED = 8, 1, 4, 100_000


@dataclass(frozen=True)
class Proposal:
    """A proposed time for one line. Each is accepted separately.

    ``due`` is the last day within the interval, ``wanted`` the agreed day and time. ``is_present``: the
    meeting is planned for this time already. ``day`` is in the line's zone. ``obstacle`` is why the agreed
    time was not chosen: somebody is away, the manager is busy in their calendar or has another meeting here.
    If there is no such reason, another line got the time or the day would be too full.
    """

    line_id: UUID
    report: str
    zone: str
    starts_at: dt.datetime
    day: dt.date
    minutes: int
    wanted: dt.datetime
    due: dt.date | None
    reason: Reason
    obstacle: Obstacle
    is_present: bool

    @property
    def time(self) -> dt.time:
        """The local time in the line's zone."""
        return cadence.local(self.starts_at, self.zone).time()


@dataclass(frozen=True)
class Left:
    """A line for which no time was found, and the last day within its interval."""

    line_id: UUID
    report: str
    due: dt.date | None


@dataclass(frozen=True)
class Found:
    """All proposals, earliest first. ``gap`` is the distance to the optimum; 0 means it is proved optimal."""

    proposals: tuple[Proposal, ...]
    left: tuple[Left, ...]
    gap: int
    horizon: dt.date


@dataclass(frozen=True)
class _Owed:
    """One meeting to place: its first and last possible day, and its wanted time."""

    line: Line
    row: Row
    interval: Interval
    meeting: Meeting | None
    first: dt.date
    last: dt.date
    wanted: dt.datetime
    days: cadence.Workdays
    zones: frozenset[str]

    @property
    def length(self) -> dt.timedelta:
        return dt.timedelta(minutes=self.interval.minutes)


@dataclass(frozen=True)
class _Block:
    """A block of the manager's time, which holds one meeting."""

    begins: dt.datetime
    ends: dt.datetime
    day: int


@dataclass(frozen=True)
class _Options:
    """The possible starts of one meeting and their costs, by the number of the block."""

    starts: dict[int, dt.datetime]
    costs: dict[int, int]


def find(manager: Person, *, now: dt.datetime) -> Found:
    """Proposed times in the coming four weeks, free of the manager's other meetings and busy times."""
    rows = {row.line_id: row for row in lines_below.below(manager, now=now, everyone=False)}
    lines = list(Line.objects.filter(pk__in=rows).select_related("manager", "report"))
    today = line_calendar.local_day(now, manager.zone)
    horizon = today + dt.timedelta(weeks=WEEKS)
    coming = _coming([line.pk for line in lines], now=now)
    owed = _owed(lines, rows, coming, today=today, horizon=horizon)
    placed = {one.meeting.pk for one in owed if one.meeting is not None}
    has = occupied_times.of(manager, now=now, without=placed)
    blocks = _blocks(owed, manager.zone, today, horizon)
    options = [_options(one, blocks, has) for one in owed]
    days = [block.day for block in blocks]
    placing = cadence.place_meetings(
        [each.costs for each in options], days, crowding=CROWDING, unplaced=UNPLACED
    )
    proposals, left = [], []
    for one, place, each in zip(owed, placing.starts, options, strict=True):
        if place is None:
            left.append(Left(one.line.pk, one.row.report, one.row.due))
        else:
            proposals.append(_proposal(one, each.starts[place], has))
    proposals.sort(key=lambda proposal: (proposal.starts_at, proposal.line_id))
    return Found(tuple(proposals), tuple(left), placing.gap, horizon)


def _coming(ids: Sequence[UUID], *, now: dt.datetime) -> dict[UUID, Meeting]:
    rows = (
        Meeting.objects.filter(line__in=ids, state__in=(Meeting.State.PLANNED, Meeting.State.ISSUED))
        .filter(starts_at__gt=now, given_up_at__isnull=True)
        .select_related("interval")
        .order_by("-starts_at", "-pk")
    )
    return {meeting.line_id: meeting for meeting in rows}


def _owed(
    lines: Sequence[Line],
    rows: dict[UUID, Row],
    coming: dict[UUID, Meeting],
    *,
    today: dt.date,
    horizon: dt.date,
) -> list[_Owed]:
    intervals: dict[UUID, list[Interval]] = {}
    for interval in Interval.objects.in_use().filter(line__in=rows):
        intervals.setdefault(interval.line_id, []).append(interval)
    each = {person.pk: person for line in lines for person in (line.manager, line.report) if person}
    people = list(each.values())
    works = dict(
        zip((p.pk for p in people), line_calendar.working_days_of_each(people, around=today), strict=True)
    )
    found = []
    for line in lines:
        row, meeting = rows[line.pk], coming.get(line.pk)
        current = line_calendar.in_force(intervals.get(line.pk, []), row.today)
        if current is None or row.standing == "paused" or not _is_owed(row, horizon):
            continue
        sides = [works[person.pk] for person in (line.manager, line.report) if person]
        found.append(_one(line, row, current, meeting, cadence.common(sides[0], sides[-1]), horizon))
    return sorted(found, key=lambda one: (one.last, one.line.pk))


def _is_owed(row: Row, horizon: dt.date) -> bool:
    """Whether the interval ends before ``horizon`` or has ended, and no date is confirmed by then."""
    if row.due is None or row.due > horizon:
        return False
    keeps = max(row.due, row.today)
    return not (row.next_confirmed and row.next_day is not None and row.next_day <= keeps)


def _one(
    line: Line,
    row: Row,
    interval: Interval,
    meeting: Meeting | None,
    days: cadence.Workdays,
    horizon: dt.date,
) -> _Owed:
    due = row.due or horizon
    first = row.today + DAY
    # An overdue meeting is placed as early as possible, at the latest on the horizon.
    last = due if due >= first else horizon
    if meeting is not None and meeting.interval is not None and meeting.nominal_date is not None:
        # A meeting stays before the next date of its interval.
        following = line_calendar.rule_of(meeting.interval).next_after(meeting.nominal_date)
        last = max(first, min(last, following - DAY))
    day = last
    if due < first:
        day = first
    elif meeting is not None and (row.next_day or last) <= last:
        day = row.next_day or last
    wanted = cadence.start_instant(day, interval.time, interval.zone)
    early = day - dt.timedelta(days=7)
    zones = frozenset(person.zone for person in (line.manager, line.report) if person)
    return _Owed(line, row, interval, meeting, max(first, early), last, wanted, days, zones)


def _blocks(owed: Sequence[_Owed], zone: str, today: dt.date, horizon: dt.date) -> list[_Block]:
    """The blocks of the coming days in the manager's zone, aligned so that most agreed times fit into one."""
    longest = max((one.length for one in owed), default=HALF_HOUR)
    size = HALF_HOUR * -(-longest // HALF_HOUR)
    midnight = cadence.start_instant(today + DAY, dt.time(), zone)

    def inside(offset: dt.timedelta) -> int:
        return sum((one.wanted - midnight - offset) % size + one.length <= size for one in owed)

    offset = max((QUARTER * n for n in range(size // QUARTER)), key=inside)
    blocks = []
    for day in (today + DAY * n for n in range(1, (horizon - today).days + 1)):
        begins = cadence.start_instant(day, dt.time(), zone) + offset
        while line_calendar.local_day(begins, zone) == day:
            blocks.append(_Block(begins, begins + size, day.toordinal()))
            begins += size
    return blocks


def _options(one: _Owed, blocks: Sequence[_Block], has: Taken) -> _Options:
    """The blocks that fit one meeting. It starts at its agreed time if possible."""
    found = _Options({}, {})
    zone = one.interval.zone
    wanted_day = line_calendar.local_day(one.wanted, zone)
    days = {
        day: cadence.start_instant(day, one.interval.time, zone)
        for day in (one.first + DAY * n for n in range((one.last - one.first).days + 1))
        if one.days.works(day)
    }
    for number, block in enumerate(blocks):
        usual = days.get(line_calendar.local_day(block.begins, zone))
        if usual is None:
            continue
        as_usual = block.begins <= usual and usual + one.length <= block.ends
        start = usual if as_usual else block.begins
        if not as_usual and not all(occupied_times.in_hours(start, one.length, each) for each in one.zones):
            continue
        if has.by(start, start + one.length):
            continue
        off = abs((line_calendar.local_day(start, zone) - wanted_day).days) * PER_DAY
        found.starts[number] = start
        found.costs[number] = off + -(-abs(start - usual) // HALF_HOUR) * PER_HALF_HOUR
    return found


def _proposal(one: _Owed, start: dt.datetime, has: Taken) -> Proposal:
    day = line_calendar.local_day(start, one.interval.zone)
    reason: Reason = "other day"
    if one.row.due is not None and one.row.due <= one.row.today:
        reason = "overdue"
    elif start == one.wanted:
        reason = "as agreed"
    elif day == line_calendar.local_day(one.wanted, one.interval.zone):
        reason = "other time"
    return Proposal(
        line_id=one.line.pk,
        report=one.row.report,
        zone=one.interval.zone,
        starts_at=start,
        day=day,
        minutes=one.interval.minutes,
        wanted=one.wanted,
        due=one.row.due,
        reason=reason,
        obstacle="" if reason == "as agreed" else _obstacle(one, has),
        is_present=one.meeting is not None and one.meeting.starts_at == start,
    )


def _obstacle(one: _Owed, has: Taken) -> Obstacle:
    """Why the agreed time of a line is not possible."""
    if not one.days.works(line_calendar.local_day(one.wanted, one.interval.zone)):
        return "away"
    return has.by(one.wanted, one.wanted + one.length) or "spread"
