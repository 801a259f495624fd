"""Whether meetings happen, for whoever leads: dates only.

No class here has a field that could hold a topic, a note, a number of topics or the reason of a pause.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from oneonone.models import Interval, Line, Side
from oneonone.selectors import standing, tree

# What needs attention comes first; within a kind, the longest silence.
_RANK = {"never met": 0, "over": 1, "runs out": 2, "within": 3, "paused": 4}
_SOON = dt.timedelta(days=7)
# SQLite takes at most so many parameters in one query; more lines are read in several.
_AT_ONCE = 5000


@dataclass(frozen=True)
class Row:
    """One line as a lead sees it. Days are whole days in the line's own zone."""

    line_id: UUID
    manager_id: UUID | None
    manager: str
    report: str
    is_own: bool
    interval: Interval | None
    last_held: dt.date | None
    silence: int
    standing: str
    days: int
    next_day: dt.date | None
    next_confirmed: bool


@dataclass(frozen=True)
class Sums:
    """What the sentence on the page says. ``longest`` is the longest silence in days, of lines not paused."""

    lines: int
    over: int
    never_met: int
    runs_out: int
    paused: int
    longest: int


@dataclass(frozen=True)
class Team:
    """The lines a lead sees, those first that need attention."""

    rows: tuple[Row, ...]
    sums: Sums
    everyone: bool
    has_more_below: bool


def team(lead: Person, *, now: dt.datetime, everyone: bool = False) -> Team:
    """The lead's own reports, or with ``everyone`` all lines below them too."""
    below = tree.line_ids_below(lead)
    own = set(
        Line.objects.open().filter(manager=lead).exclude(start=Line.Start.ALONE).values_list("pk", flat=True)
    )
    wanted = below if everyone else [pk for pk in below if pk in own]
    rows = [row for ids in _chunks(wanted) for row in _rows(lead, ids, now=now)]
    rows.sort(key=lambda row: (_RANK[row.standing], -row.silence, row.report.casefold(), row.line_id))
    return Team(rows=tuple(rows), sums=_sums(rows), everyone=everyone, has_more_below=len(below) > len(own))


def _chunks(ids: Sequence[UUID]) -> list[Sequence[UUID]]:
    return [ids[start : start + _AT_ONCE] for start in range(0, len(ids), _AT_ONCE)]


def _rows(lead: Person, ids: Sequence[UUID], *, now: dt.datetime) -> list[Row]:
    lines = list(Line.objects.filter(pk__in=ids).select_related("manager", "report"))
    found = standing.of_lines(lines, now=now)
    return [_row(lead, line, found[line.pk]) for line in lines]


def _row(lead: Person, line: Line, stands: standing.Standing) -> Row:
    return Row(
        line_id=line.pk,
        manager_id=line.manager_id,
        manager=line.name_on(Side.MANAGER),
        report=line.name_on(Side.REPORT),
        is_own=line.manager_id == lead.pk,
        interval=stands.interval,
        last_held=stands.last_held,
        silence=stands.silence,
        standing=stands.kind,
        days=stands.days,
        next_day=stands.coming,
        next_confirmed=stands.confirmed,
    )


def _sums(rows: Sequence[Row]) -> Sums:
    kinds = Counter(row.standing for row in rows)
    return Sums(
        lines=len(rows),
        over=kinds["over"],
        never_met=kinds["never met"],
        runs_out=sum(1 for row in rows if row.standing == "runs out" and row.days <= _SOON.days),
        paused=kinds["paused"],
        longest=max((row.silence for row in rows if row.standing != "paused"), default=0),
    )
