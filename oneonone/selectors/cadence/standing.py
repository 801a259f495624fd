"""Where lines stand: last held, how long ago, what comes next. Dates only, in four queries."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from oneonone import cadence
from oneonone.cadence.standing import Kind
from oneonone.models import Interval, Line, Meeting, Pause
from oneonone.selectors.dates import line_calendar


@dataclass(frozen=True)
class Standing:
    """How a line stands on ``today``, a day in its own zone. No field could hold what a meeting is about.

    ``kind``, ``days``, ``silence``, ``last_held`` and ``due`` are those of ``cadence.Standing``. ``interval``
    makes the dates. ``coming`` is the day of the next meeting; ``confirmed`` says that somebody issued, moved
    or invited to it, as against a date that only the interval made.
    """

    line_id: UUID
    today: dt.date
    zone: str
    interval: Interval | None
    kind: Kind
    days: int
    silence: int
    last_held: dt.date | None
    due: dt.date | None
    coming: dt.date | None
    confirmed: bool


def of_line(line: Line, *, now: dt.datetime) -> Standing:
    """How one line stands."""
    return of_lines([line], now=now)[line.pk]


def of_lines(lines: Sequence[Line], *, now: dt.datetime) -> dict[UUID, Standing]:
    """How each line stands, by the clock of its own zone, in four queries whatever their number.

    It follows the intervals both sides agreed, and the meetings held of which neither side has said that they
    were not.
    """
    ids = [line.pk for line in lines]
    intervals: defaultdict[UUID, list[Interval]] = defaultdict(list)
    for interval in Interval.objects.in_use().filter(line__in=ids):
        intervals[interval.line_id].append(interval)
    pauses: defaultdict[UUID, list[cadence.Pause]] = defaultdict(list)
    for line_id, first, last in Pause.objects.filter(line__in=ids).values_list("line", "first", "last"):
        pauses[line_id].append(cadence.Pause(first, last))
    held = held_days(ids)
    coming = _coming(ids, now=now)
    return {
        line.pk: _of(line, intervals[line.pk], held[line.pk], pauses[line.pk], coming.get(line.pk), now=now)
        for line in lines
    }


def held_days(line_ids: Sequence[UUID]) -> defaultdict[UUID, list[dt.date]]:
    """The days on which each line's meetings were held, as far as neither side has said one was not."""
    days: defaultdict[UUID, list[dt.date]] = defaultdict(list)
    rows = (
        Meeting.objects.filter(line__in=line_ids, state=Meeting.State.CLOSED)
        .exclude(claims__held=False)
        .order_by("held_on")
        .values_list("line", "held_on")
    )
    for line_id, day in rows:
        if day is not None:
            days[line_id].append(day)
    return days


def _coming(line_ids: Sequence[UUID], *, now: dt.datetime) -> dict[UUID, Meeting]:
    """Latest first, so that in the dictionary the earliest of a line stays."""
    rows = (
        Meeting.objects.coming()
        .filter(line__in=line_ids, given_up_at__isnull=True, starts_at__gt=now)
        .order_by("-starts_at", "-id")
        .only("line", "starts_at", "zone", "confirmed_at")
    )
    return {meeting.line_id: meeting for meeting in rows}


def _of(
    line: Line,
    intervals: Sequence[Interval],
    held: Sequence[dt.date],
    pauses: Sequence[cadence.Pause],
    coming: Meeting | None,
    *,
    now: dt.datetime,
) -> Standing:
    zone = _zone(line, intervals, now)
    today = line_calendar.local_day(now, zone)
    found = cadence.standing(_agreements(intervals), held, line.starts_on, today, pauses)
    return Standing(
        line_id=line.pk,
        today=today,
        zone=zone,
        interval=line_calendar.in_force(intervals, today),
        kind=found.kind,
        days=found.days,
        silence=found.silence,
        last_held=found.last_held,
        due=found.due,
        coming=None if coming is None else line_calendar.local_day(coming.starts_at, coming.zone),
        confirmed=coming is not None and coming.confirmed_at is not None,
    )


def _agreements(intervals: Sequence[Interval]) -> list[cadence.Agreement]:
    """The intervals that both agreed, from the day each took effect. One only proposed counts nothing."""
    return [
        cadence.Agreement(interval.effective_from, line_calendar.rule_of(interval))
        for interval in intervals
        if interval.agreed_at is not None
    ]


def _zone(line: Line, intervals: Sequence[Interval], now: dt.datetime) -> str:
    """The zone of the interval in force; before there is one, that of a side."""
    if not intervals:
        return line.someone.zone
    latest = intervals[-1]
    current = line_calendar.in_force(intervals, line_calendar.local_day(now, latest.zone))
    return (current or latest).zone
