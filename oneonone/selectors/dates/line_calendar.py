"""What the rows say about dates, as the pure cadence package wants it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from itertools import takewhile
from uuid import UUID
from zoneinfo import ZoneInfo

from accounts.models import DayAway, Person
from oneonone import cadence
from oneonone.models import ClosingDay, Interval, Line, Meeting, Pause

# Far enough to hold two dates of the longest interval and a stretch away between them.
HORIZON = dt.timedelta(days=3 * 366)
HOLIDAY_YEARS_AHEAD = 4
_EVERY_DAY = cadence.WorkingDays(week=frozenset(range(1, 8)))


def rule_of(interval: Interval) -> cadence.Rule:
    """The grid an interval row stands for."""
    return cadence.Rule(
        every=interval.every,
        unit="weeks" if interval.unit == Interval.Unit.WEEKS else "months",
        anchor=interval.anchor,
        weekday=interval.weekday,
        ordinal=interval.ordinal,
        day=interval.day,
        last_working_day=interval.last_working_day,
        second_day=interval.second_day,
    )


def working_days_of_each(people: Sequence[Person], *, around: dt.date) -> list[cadence.WorkingDays]:
    """The days on which each works: their week, their holidays, the closing days, their days away.

    Two queries, however many people.
    """
    closing = frozenset(ClosingDay.objects.values_list("day", flat=True))
    away: dict[UUID, list[tuple[dt.date, dt.date]]] = {person.pk: [] for person in people}
    for pk, first, last in DayAway.objects.filter(person__in=people).values_list("person", "first", "last"):
        away[pk].append((first, last))
    return [
        cadence.WorkingDays(
            week=frozenset(day for day, works in enumerate(person.working_week, start=1) if works == "1"),
            holidays=_holidays_of(person, around=around) | closing,
            away=tuple(away[person.pk]),
        )
        for person in people
    ]


def first_day_for(person: Person, *, today: dt.date) -> dt.date:
    """The day to offer somebody for a new one-on-one: a week on, or the first day after that they work."""
    week = today + dt.timedelta(days=7)
    days = working_days_of(person, around=today)
    return days.first_from(week, before=week + dt.timedelta(days=60)) or week


def working_days_of(person: Person, *, around: dt.date) -> cadence.WorkingDays:
    """The days on which one person works."""
    return working_days_of_each([person], around=around)[0]


def _holidays_of(person: Person, *, around: dt.date) -> frozenset[dt.date]:
    if not person.country:
        return frozenset()
    years = range(around.year - 1, around.year + HOLIDAY_YEARS_AHEAD)
    return cadence.holidays_for(person.country, person.subdivision, years)


def working_days(line: Line, *, around: dt.date) -> cadence.Workdays:
    """The days on which both sides work. Somebody who has not joined yet works when the other does."""
    people = [person for person in (line.manager, line.report) if person is not None]
    each = working_days_of_each(people, around=around)
    return cadence.common(each[0], each[-1])


def notice_of(line: Line, rule: cadence.Rule) -> cadence.Notice:
    """How many working days before and after a meeting things happen: the line's own, else the defaults."""
    usual = cadence.Notice.defaults_for(rule)

    def own(value: int | None, default: int) -> int:
        return default if value is None else value

    return cadence.Notice(
        invite_working_days=own(line.invite_working_days, usual.invite_working_days),
        issue_working_days=own(line.issue_working_days, usual.issue_working_days),
        prepare_working_days=own(line.prepare_working_days, usual.prepare_working_days),
        record_working_days=own(line.record_working_days, usual.record_working_days),
    )


def quiet_of(line: Line) -> tuple[dt.time, dt.time]:
    """The quiet hours that the day's reminder keeps: the manager's, or the report's where there is none."""
    person = line.someone
    return person.quiet_from, person.quiet_to


def intervals_of(line: Line) -> list[Interval]:
    """Those that make dates: a proposal that was declined or replaced makes none."""
    return list(line.intervals.in_use())


def in_force(intervals: Sequence[Interval], day: dt.date) -> Interval | None:
    """The interval that makes the dates on ``day``; before the first one begins, the first."""
    if not intervals:
        return None
    begun = [interval for interval in intervals if interval.effective_from <= day]
    return begun[-1] if begun else intervals[0]


def local_day(instant: dt.datetime, zone: str) -> dt.date:
    return instant.astimezone(ZoneInfo(zone)).date()


def instants_of(
    line: Line, rule: cadence.Rule, *, day: dt.date, time: dt.time, zone: str, minutes: int
) -> cadence.Instants:
    """The instants of a meeting on ``day``, in UTC.

    Two whose weeks share no day can still meet by hand: then every day counts.
    """
    days, notice, quiet = working_days(line, around=day), notice_of(line, rule), quiet_of(line)
    try:
        return cadence.instants(day, time, zone, minutes, days, notice, quiet)
    except cadence.NoWorkingDay:
        return cadence.instants(day, time, zone, minutes, _EVERY_DAY, notice, quiet)


def dates_after(line: Line, interval: Interval, *, after: dt.date) -> Iterator[cadence.Occurrence]:
    """The grid's dates later than ``after``, each with the day it falls on once both work."""
    days = working_days(line, around=after)
    yield from cadence.occurrences(rule_of(interval), days, after, after + HORIZON)


def grid_of(line: Line, *, now: dt.datetime) -> Interval | None:
    """The interval that makes the line's next date."""
    intervals = intervals_of(line)
    return in_force(intervals, local_day(now, intervals[-1].zone)) if intervals else None


def last_day_taken(
    line: Line, interval: Interval, *, now: dt.datetime, without: Meeting | None = None
) -> dt.date:
    """The day after which the line's next date is looked for: yesterday, or the last meeting's day.

    A date that has had a meeting is not given out again, wherever that meeting was moved, and a new grid
    gives none up to the last one of the old grid (``cadence.changeover``). ``without`` is a meeting that does
    not count.
    """
    begins = max(local_day(now, interval.zone), line.starts_on, interval.effective_from)
    days = [begins - dt.timedelta(days=1)]
    regular = Meeting.objects.filter(line=line, is_extra=False, nominal_date__isnull=False)
    if without is not None:
        regular = regular.exclude(pk=without.pk)
    last = regular.order_by("-nominal_date").first()
    if last is not None and last.nominal_date is not None:
        days += [last.nominal_date, local_day(last.starts_at, last.zone)]
    return max(days)


def coming_date(
    line: Line, interval: Interval, *, after: dt.date, now: dt.datetime, pauses: Sequence[Pause]
) -> cadence.Occurrence | None:
    """The first date after ``after`` that is not skipped, not paused, and starts later than ``now``."""
    for occurrence in dates_after(line, interval, after=after):
        day = occurrence.day
        if day is None or any(pause.covers(day) for pause in pauses):
            continue
        if cadence.start_instant(day, interval.time, interval.zone) > now:
            return occurrence
    return None


def date_left(meeting: Meeting, *, held_on: dt.date | None = None) -> dt.date | None:
    """The date that a meeting leaves free by being so much earlier, else None.

    Judged by the day it was held on, or the one it is planned for now.
    """
    interval, nominal = meeting.interval, meeting.nominal_date
    if interval is None or nominal is None:
        return None
    day = held_on or local_day(meeting.starts_at, meeting.zone)
    return nominal if cadence.leaves_its_date(day, nominal, rule_of(interval)) else None


def not_agreed_to(line: Line, *, now: dt.datetime) -> Meeting | None:
    """The line's coming meeting whose date only the interval made: another interval gives it another date."""
    return (
        line.meetings.filter(
            state=Meeting.State.PLANNED, starts_at__gt=now, is_extra=False, confirmed_at__isnull=True
        )
        .order_by("starts_at")
        .first()
    )


def skipped_before(meeting: Meeting) -> tuple[dt.date, ...]:
    """Dates of the grid since the last regular meeting that are skipped as "both away".

    For those there is no day on which both work until the next date.
    """
    interval, nominal = meeting.interval, meeting.nominal_date
    if interval is None or nominal is None:
        return ()
    earlier = Meeting.objects.filter(line=meeting.line_id, is_extra=False, nominal_date__lt=nominal)
    last = earlier.order_by("-nominal_date").values_list("nominal_date", flat=True).first()
    begins = max(meeting.line.starts_on, interval.effective_from) - dt.timedelta(days=1)
    since = begins if last is None else max(begins, last)
    # Mostly there is no date between, and then nobody's days need to be looked at.
    if next(rule_of(interval).dates_after(since)) >= nominal:
        return ()
    between = takewhile(lambda date: date.nominal < nominal, dates_after(meeting.line, interval, after=since))
    return tuple(date.nominal for date in between if date.day is None)


def next_day(meeting: Meeting) -> dt.date | None:
    """The day of the line's next date after this meeting's own: a move must stay before it.

    That is the next one of its grid, or of the meeting that is there already, whichever is earlier: the grid
    may have changed since.
    """
    later = (
        Meeting.objects.coming()
        .filter(line=meeting.line_id, is_extra=False, starts_at__gt=meeting.starts_at)
        .exclude(pk=meeting.pk)
        .order_by("starts_at")
        .first()
    )
    there = None if later is None else local_day(later.starts_at, later.zone)
    return min((day for day in (there, _next_grid_day(meeting)) if day is not None), default=None)


def _next_grid_day(meeting: Meeting) -> dt.date | None:
    if meeting.interval is None or meeting.nominal_date is None:
        return None
    for occurrence in dates_after(meeting.line, meeting.interval, after=meeting.nominal_date):
        if occurrence.day is not None:
            return occurrence.day
    return None
