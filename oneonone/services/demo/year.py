"""A year of meetings on the lines of the demo: held, moved, called off, not held, paused, ended."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import count
from typing import Any

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Interval, Line, Pause
from oneonone.selectors.dates import line_calendar
from oneonone.services.agenda import issuing
from oneonone.services.meetings import coming_meetings, intervals

from .past import Past, Planned
from .scenario import ZONE, Days

HELD, MOVED = "held", "moved"


def tell(
    rows: list[dict[str, Any]], talks: list[dict[str, Any]], *, cast: dict[str, Person], days: Days
) -> dict[str, Line]:
    """Make every line with what became of its dates; the lines by ``manager-report``."""
    past = Past(talks)
    lines = {}
    for row in rows:
        line, interval = _line(row, cast=cast, days=days)
        for planned in _dates(row, line, interval, days=days):
            past.add(planned)
        lines[f"{row['manager']}-{row['report']}"] = line
    past.store()
    for row in rows:
        _leave_as_today(row, lines[f"{row['manager']}-{row['report']}"], cast=cast, days=days)
    return lines


def _line(row: dict[str, Any], *, cast: dict[str, Person], days: Days) -> tuple[Line, Interval]:
    made = days.at(row["began"], 9)
    line = Line.objects.create(
        manager=cast[row["manager"]],
        report=cast[row["report"]],
        start=Line.Start.JOINED,
        starts_on=days.on(row["began"]),
        created_by=cast["nils"],
        created_at=made,
        tree_confirmed_at=made,
        tree_confirmed_by=cast["nils"],
    )
    interval = intervals.add_first(line=line, terms=terms_of(row, days=days), actor=line.someone, now=made)
    return line, interval


def terms_of(row: dict[str, Any], *, days: Days) -> intervals.Terms:
    """What the two have agreed: the grid runs through the last date held, or through a first one."""
    through = days.weekday_on(row["last"] if "last" in row else row["first"])
    return intervals.Terms(
        every=row["every"],
        unit=row["unit"],
        anchor=_anchor(through, row, began=days.on(row["began"])),
        day=through.day if row["unit"] == "months" else None,
        time=row["time"],
        minutes=row["minutes"],
        zone=ZONE,
        place=row["place"],
    )


def _anchor(through: dt.date, row: dict[str, Any], *, began: dt.date) -> dt.date:
    """The earliest date of the grid since the line began."""

    def back(steps: int) -> dt.date:
        if row["unit"] == "months":
            return cadence.add_months(through, -row["every"] * steps)
        return through - dt.timedelta(weeks=row["every"] * steps)

    return back(next(steps for steps in count() if back(steps + 1) < began))


def _dates(row: dict[str, Any], line: Line, interval: Interval, *, days: Days) -> Iterator[Planned]:
    """The dates of the grid before today, each with what became of it."""
    workdays = line_calendar.working_days(line, around=days.today)
    found = cadence.occurrences(
        line_calendar.rule_of(interval), workdays, line.starts_on, days.today - dt.timedelta(days=1)
    )
    usual = [(one.nominal, one.day) for one in found if one.day is not None and one.day < days.today]
    paused = days.on(row["paused"]) if "paused" in row else None
    usual = [pair for pair in usual if paused is None or pair[1] < paused]
    last = days.weekday_on(row["last"]) if "last" in row else None
    held = [nominal for nominal, _ in usual if last is not None and nominal <= last]
    lapses = {held[-1 - int(back)]: what for back, what in row.get("lapses", {}).items()}
    if row.get("unanswered"):
        usual = usual[:-1]
    for nominal, day in usual:
        became = lapses.get(nominal, HELD) if nominal in held else row.get("since", HELD)
        yield Planned(
            line=line,
            interval=interval,
            nominal=nominal,
            day=day,
            became=became,
            workdays=workdays,
            is_latest=bool(held) and nominal == held[-1],
        )


def _leave_as_today(row: dict[str, Any], line: Line, *, cast: dict[str, Person], days: Days) -> None:
    """Pause or end the line where that was done, and make the meeting that comes next."""
    if "paused" in row:
        Pause.objects.create(
            line=line, first=days.on(row["paused"]), by=line.someone, at=days.at(row["paused"], 9)
        )
    if "ended" in row:
        line.ended_at, line.ends_on, line.ended_by = (
            days.at(row["ended"], 16),
            days.on(row["ended"]),
            cast["nils"],
        )
        line.save(update_fields=["ended_at", "ends_on", "ended_by"])
    if row.get("unanswered"):
        before = coming_meetings.ensure(line=line, now=days.at(-6, 8))
        if before is not None:
            issuing.issue(meeting=before, actor=None, now=before.issue_at)
    coming_meetings.ensure(line=line, now=days.now)
