"""Suggested times for the one-on-ones of a manager that are due in the coming weeks, for all lines at once.

What is owed: a meeting for each line whose interval ends within the weeks asked for, unless somebody has
confirmed a date by then. Where each could be: on days on which both work, in the working hours of both zones,
where the manager has no other one-on-one and is not busy by their own calendar, where it was read. The
manager's days are cut into blocks as long as the longest of these meetings, one meeting a block: so no two
overlap, and the best answer can be found exactly, by ``cadence.place_meetings``. Best is what lies near the
agreed day and time, on days that are not crowded.
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
from oneonone.selectors import cadence_lines, calendar, taken
from oneonone.selectors.cadence_lines import Row
from oneonone.selectors.taken import Taken

Reason = Literal["as agreed", "other time", "other day", "overdue"]
Obstacle = Literal["", "away", "busy", "meeting", "spread"]

WEEKS = 4
HALF_HOUR, QUARTER = dt.timedelta(minutes=30), dt.timedelta(minutes=15)
DAY = dt.timedelta(days=1)
# One day off the agreed one weighs as much as four hours off the agreed time, or as a day's second meeting
# twice over. Leaving somebody out weighs more than anything else can.
PER_DAY, PER_HALF_HOUR, CROWDING, UNPLACED = 8, 1, 4, 100_000


@dataclass(frozen=True)
class Proposal:
    """A time for one line, to be accepted by itself.

    ``due`` is the last day within the interval, ``wanted`` the agreed day and time; ``is_present`` says that
    the meeting stands there already. ``day`` is the day on the line's clocks. ``obstacle`` is what stands
    against the agreed time: somebody is away, the manager is busy by their own calendar, or has another
    meeting here; else another line got it, or the day would be fuller than need be.
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
        """The time on the line's clocks."""
        return cadence.local(self.starts_at, self.zone).time()


@dataclass(frozen=True)
class Left:
    """A line for which no time was found, and the last day within its interval."""

    line_id: UUID
    report: str
    due: dt.date | None


@dataclass(frozen=True)
class Found:
    """All proposals, earliest first. ``gap`` is by how much a better answer could be cheaper: nought."""

    proposals: tuple[Proposal, ...]
    left: tuple[Left, ...]
    gap: int
    horizon: dt.date


@dataclass(frozen=True)
class _Owed:
    """One meeting that is to be placed: between which days, and where it would best be."""

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
    """A piece of the manager's time that takes one meeting."""

    begins: dt.datetime
    ends: dt.datetime
    day: int


@dataclass(frozen=True)
class _Options:
    """Where one meeting could be, by the number of the block: when exactly, and what it costs."""

    starts: dict[int, dt.datetime]
    costs: dict[int, int]


def find(manager: Person, *, now: dt.datetime) -> Found:
    """Proposals for the coming four weeks, clear of the manager's other meetings and own busy times."""
    rows = {row.line_id: row for row in cadence_lines.below(manager, now=now, everyone=False)}
    lines = list(Line.objects.filter(pk__in=rows).select_related("manager", "report"))
    today = calendar.local_day(now, manager.zone)
    horizon = today + dt.timedelta(weeks=WEEKS)
    coming = _coming([line.pk for line in lines], now=now)
    owed = _owed(lines, rows, coming, today=today, horizon=horizon)
    placed = {one.meeting.pk for one in owed if one.meeting is not None}
    has = taken.of(manager, now=now, without=placed)
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
        zip((p.pk for p in people), calendar.working_days_of_each(people, around=today), strict=True)
    )
    found = []
    for line in lines:
        row, meeting = rows[line.pk], coming.get(line.pk)
        current = calendar.in_force(intervals.get(line.pk, []), row.today)
        if current is None or row.standing == "paused" or not _is_owed(row, horizon):
            continue
        sides = [works[person.pk] for person in (line.manager, line.report) if person]
        found.append(_one(line, row, current, meeting, cadence.common(sides[0], sides[-1]), horizon))
    return sorted(found, key=lambda one: (one.last, one.line.pk))


def _is_owed(row: Row, horizon: dt.date) -> bool:
    """Whether the interval ends in these weeks, or has ended, and no date is confirmed by then."""
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
    # Somebody past their interval is met as soon as there is room, at the latest by the horizon.
    last = due if due >= first else horizon
    if meeting is not None and meeting.interval is not None and meeting.nominal_date is not None:
        # A meeting stays before the next date of its own grid.
        following = calendar.rule_of(meeting.interval).next_after(meeting.nominal_date)
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
    """The blocks of the coming days on the manager's clocks, so that most agreed times lie inside one."""
    longest = max((one.length for one in owed), default=HALF_HOUR)
    size = HALF_HOUR * -(-longest // HALF_HOUR)
    midnight = cadence.start_instant(today + DAY, dt.time(), zone)

    def inside(offset: dt.timedelta) -> int:
        return sum((one.wanted - midnight - offset) % size + one.length <= size for one in owed)

    offset = max((QUARTER * n for n in range(size // QUARTER)), key=inside)
    blocks = []
    for day in (today + DAY * n for n in range(1, (horizon - today).days + 1)):
        begins = cadence.start_instant(day, dt.time(), zone) + offset
        while calendar.local_day(begins, zone) == day:
            blocks.append(_Block(begins, begins + size, day.toordinal()))
            begins += size
    return blocks


def _options(one: _Owed, blocks: Sequence[_Block], has: Taken) -> _Options:
    """The blocks that suit one meeting: at its agreed time where that lies inside, else at its start."""
    found = _Options({}, {})
    zone = one.interval.zone
    wanted_day = calendar.local_day(one.wanted, zone)
    days = {
        day: cadence.start_instant(day, one.interval.time, zone)
        for day in (one.first + DAY * n for n in range((one.last - one.first).days + 1))
        if one.days.works(day)
    }
    for number, block in enumerate(blocks):
        usual = days.get(calendar.local_day(block.begins, zone))
        if usual is None:
            continue
        as_usual = block.begins <= usual and usual + one.length <= block.ends
        start = usual if as_usual else block.begins
        if not as_usual and not all(taken.in_hours(start, one.length, each) for each in one.zones):
            continue
        if has.by(start, start + one.length):
            continue
        off = abs((calendar.local_day(start, zone) - wanted_day).days) * PER_DAY
        found.starts[number] = start
        found.costs[number] = off + -(-abs(start - usual) // HALF_HOUR) * PER_HALF_HOUR
    return found


def _proposal(one: _Owed, start: dt.datetime, has: Taken) -> Proposal:
    day = calendar.local_day(start, one.interval.zone)
    reason: Reason = "other day"
    if one.row.due is not None and one.row.due <= one.row.today:
        reason = "overdue"
    elif start == one.wanted:
        reason = "as agreed"
    elif day == calendar.local_day(one.wanted, one.interval.zone):
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
    """What stands against the agreed time of a line."""
    if not one.days.works(calendar.local_day(one.wanted, one.interval.zone)):
        return "away"
    return has.by(one.wanted, one.wanted + one.length) or "spread"
