"""A line's cadence today, from the rows: dates only."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from oneonone import cadence
from oneonone.cadence.standing import Kind
from oneonone.models import Interval, Line, Meeting, Pause
from oneonone.selectors import calendar


@dataclass(frozen=True)
class Standing:
    """How a line stands on ``today``, a day in its own zone. ``kind``, ``days``, ``silence``, ``last_held`` and ``due``
    are those of ``cadence.Standing``.
    """

    today: dt.date
    zone: str
    kind: Kind
    days: int
    silence: int
    last_held: dt.date | None
    due: dt.date | None


def of_line(line: Line, *, now: dt.datetime) -> Standing:
    """How one line stands."""
    return of_lines([line], now=now)[line.pk]


def of_lines(lines: Sequence[Line], *, now: dt.datetime) -> dict[UUID, Standing]:
    """How each line stands, in three queries whatever their number.

    It follows the intervals both sides agreed, and the meetings held of which neither side has said that they
    were not.
    """
    ids = [line.pk for line in lines]
    intervals: defaultdict[UUID, list[Interval]] = defaultdict(list)
    for interval in Interval.objects.filter(line__in=ids):
        intervals[interval.line_id].append(interval)
    pauses: defaultdict[UUID, list[cadence.Pause]] = defaultdict(list)
    for pause in Pause.objects.filter(line__in=ids):
        pauses[pause.line_id].append(cadence.Pause(pause.first, pause.last))
    held = _held(ids)
    return {line.pk: _of(line, intervals[line.pk], held[line.pk], pauses[line.pk], now) for line in lines}


def _held(ids: list[UUID]) -> defaultdict[UUID, list[dt.date]]:
    rows = (
        Meeting.objects.filter(line__in=ids, state=Meeting.State.CLOSED)
        .exclude(claims__held=False)
        .values_list("line_id", "held_on")
    )
    held: defaultdict[UUID, list[dt.date]] = defaultdict(list)
    for line_id, day in rows:
        if day is not None:
            held[line_id].append(day)
    return held


def _of(
    line: Line,
    intervals: list[Interval],
    held: list[dt.date],
    pauses: list[cadence.Pause],
    now: dt.datetime,
) -> Standing:
    zone = _zone(line, intervals, now)
    today = calendar.local_day(now, zone)
    agreements = [
        cadence.Agreement(interval.effective_from, calendar.rule_of(interval))
        for interval in intervals
        if interval.agreed_at is not None
    ]
    found = cadence.standing(agreements, held, line.starts_on, today, pauses)
    return Standing(
        today, zone, found.kind, found.days, found.silence, found.last_held, found.due
    )


def _zone(line: Line, intervals: list[Interval], now: dt.datetime) -> str:
    """The zone of the interval in force; before there is one, that of the manager, or else of the report."""
    if not intervals:
        person = line.manager or line.report
        assert person is not None  # a line has at least one account, by constraint
        return person.zone
    current = calendar.in_force(intervals, calendar.local_day(now, intervals[-1].zone))
    return (current or intervals[-1]).zone
