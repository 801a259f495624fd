"""The lines that a lead sees with their standing, in one query.

It is written by hand and its values are taken as they come: for a head of ten thousand people, making rows of
the models would cost several times what the database does. Dates only: no column read here holds a word of
what a meeting is about.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import cache, lru_cache
from typing import Any, NamedTuple
from uuid import UUID

from django.db import connection

from accounts.models import Person
from oneonone import cadence
from oneonone.cadence.standing import Kind
from oneonone.models import HeldClaim, Interval, Line, Meeting, Pause
from oneonone.selectors.cadence import reporting_tree
from oneonone.selectors.dates import line_calendar

# A state joined to nothing is the same state, and keeps both engines from walking the index of states, which
# holds all meetings of a kind, for each line anew. Days come as text and a truth as a number, so that none is
# made an object on the way: there are few different ones, and those are kept.
_LINES = """
SELECT line.id, line.manager_id, COALESCE(manager.name, line.manager_name),
  COALESCE(report.name, line.report_name), COALESCE(manager.zone, report.zone),
  CAST(line.starts_on AS TEXT),
  (SELECT MAX(held.held_on) FROM {meeting} AS held
    WHERE held.line_id = line.id AND held.state || '' = 'closed'
      AND NOT EXISTS (SELECT 1 FROM {claim} AS claim WHERE claim.meeting_id = held.id AND NOT claim.held)),
  coming.starts_at, coming.zone, coming.confirmed_at IS NOT NULL,
  pause.first, pause.last,
  terms.id, CAST(terms.effective_from AS TEXT), terms.proposed_at, terms.zone, terms.agreed_at IS NOT NULL,
  terms.every, terms.unit, CAST(terms.anchor AS TEXT), terms.weekday, terms.ordinal, terms.day,
  CASE WHEN terms.last_working_day THEN 1 ELSE 0 END, terms.second_day
FROM ({below}) AS seen JOIN {line} AS line ON line.id = seen.line_id
LEFT JOIN {person} AS manager ON manager.id = line.manager_id
LEFT JOIN {person} AS report ON report.id = line.report_id
LEFT JOIN {meeting} AS coming ON coming.id = (
  SELECT later.id FROM {meeting} AS later
  WHERE later.line_id = line.id AND later.starts_at > %s AND later.given_up_at IS NULL
    AND later.state || '' IN ('planned', 'issued', 'under_way')
  ORDER BY later.starts_at, later.id LIMIT 1)
LEFT JOIN {interval} AS terms ON terms.line_id = line.id
LEFT JOIN {pause} AS pause ON pause.line_id = line.id
"""
_PAUSE, _TERMS, _RULE = 10, 12, 17


class Row(NamedTuple):
    """One line as a lead sees it, on ``today``, a day in the line's own zone; days are whole days.

    ``key`` and ``manager_key`` are ids as the engine keeps them, for comparing only. ``every`` and ``unit``
    are the interval that makes the dates, nought and nothing before there is one; ``agreements`` are those
    that both sides agreed. ``standing``, ``days``, ``silence``, ``last_held`` and ``due`` are those of
    ``cadence.Standing``. ``next_confirmed`` says that somebody issued, moved or invited to the next meeting,
    as against a date that only the interval made.
    """

    key: UUID | str
    manager_key: UUID | str | None
    manager: str
    report: str
    is_own: bool
    began: dt.date
    today: dt.date
    every: int
    unit: str
    agreements: tuple[cadence.Agreement, ...]
    pauses: tuple[cadence.Pause, ...]
    standing: Kind
    days: int
    silence: int
    last_held: dt.date | None
    due: dt.date | None
    next_day: dt.date | None
    next_confirmed: bool

    @property
    def line_id(self) -> UUID:
        """The line's id. Built on demand, because most of the rows are never shown."""
        return self.key if isinstance(self.key, UUID) else UUID(self.key)


def below(lead: Person, *, now: dt.datetime, everyone: bool) -> list[Row]:
    """The lead's own lines, or with ``everyone`` all below them too."""
    seen, parameters = reporting_tree.query(lead, everyone=everyone)
    names = {"meeting": Meeting, "claim": HeldClaim, "line": Line, "person": Person}
    names |= {"interval": Interval, "pause": Pause}
    tables = {name: connection.ops.quote_name(model._meta.db_table) for name, model in names.items()}
    start = connection.ops.adapt_datetimefield_value(now)
    grouped: dict[Any, list[tuple[Any, ...]]] = {}
    with connection.cursor() as cursor:
        cursor.execute(_LINES.format(below=seen, **tables), [*parameters, start])
        for values in cursor.fetchall():
            grouped.setdefault(values[0], []).append(values)
    day_in = cache(lambda zone: line_calendar.local_day(now, zone))
    own = _as_stored(lead.pk)
    return [_row(values, own, day_in) for values in grouped.values()]


def _as_stored(pk: UUID) -> UUID | str:
    return pk if connection.vendor == "postgresql" else pk.hex


def _row(values: Sequence[tuple[Any, ...]], own: UUID | str, day_in: Callable[[str], dt.date]) -> Row:
    """Build one line from its rows; it has several rows if it has several intervals or pauses."""
    line_id, manager_id, manager, report, zone, began, held, coming, coming_zone, confirmed = values[0][
        :_PAUSE
    ]
    if len(values) == 1 and values[0][_TERMS] is not None:
        every, unit, zone, agreements = _one_interval(values[0])
        today = day_in(zone)
    else:
        every, unit, today, agreements = _intervals(values, zone, day_in)
    pauses = _pauses(values)
    began, last = as_day(began), as_day(held)
    found = cadence.standing(agreements, () if last is None else (last,), began, today, pauses)
    return Row(
        line_id,
        manager_id,
        manager,
        report,
        manager_id == own,
        began,
        today,
        every,
        unit,
        agreements,
        pauses,
        found.kind,
        found.days,
        found.silence,
        last,
        found.due,
        None if coming is None else _day_of(coming, coming_zone),
        bool(confirmed),
    )


def _one_interval(values: tuple[Any, ...]) -> tuple[int, str, str, tuple[cadence.Agreement, ...]]:
    agreement = (_agreement(values[_TERMS + 1], *values[_RULE:]),) if values[_TERMS + 4] else ()
    return values[_RULE], values[_RULE + 1], values[_TERMS + 3], agreement


def _intervals(
    values: Sequence[tuple[Any, ...]], zone: str, day_in: Callable[[str], dt.date]
) -> tuple[int, str, dt.date, tuple[cadence.Agreement, ...]]:
    """In the order in which they took effect. Before the first one begins, the first makes the dates."""
    each = {row[_TERMS]: row for row in values if row[_TERMS] is not None}
    terms = sorted(each.values(), key=lambda row: (row[_TERMS + 1], row[_TERMS + 2], row[_TERMS]))
    if not terms:
        return 0, "", day_in(zone), ()
    today = day_in(terms[-1][_TERMS + 3])
    current = [row for row in terms if as_day(row[_TERMS + 1]) <= today]
    made = current[-1] if current else terms[0]
    agreed = tuple(_agreement(row[_TERMS + 1], *row[_RULE:]) for row in terms if row[_TERMS + 4])
    return made[_RULE], made[_RULE + 1], day_in(made[_TERMS + 3]), agreed


def _pauses(values: Sequence[tuple[Any, ...]]) -> tuple[cadence.Pause, ...]:
    if len(values) == 1 and values[0][_PAUSE] is None:
        return ()
    spans = {(as_day(row[_PAUSE]), as_day(row[_PAUSE + 1])) for row in values if row[_PAUSE] is not None}
    return tuple(cadence.Pause(first, last) for first, last in sorted(spans, key=lambda span: span[0]))


@lru_cache(maxsize=20_000)
def _agreement(
    effective_from: Any,
    every: int,
    unit: str,
    anchor: Any,
    weekday: int | None,
    ordinal: int | None,
    day: int | None,
    last_working_day: Any,
    second_day: int | None,
) -> cadence.Agreement:
    """Return the agreement of an interval's columns. The result is cached."""
    rule = cadence.Rule(
        every=every,
        unit="weeks" if unit == Interval.Unit.WEEKS else "months",
        anchor=as_day(anchor),
        weekday=weekday,
        ordinal=ordinal,
        day=day,
        last_working_day=bool(last_working_day),
        second_day=second_day,
    )
    return cadence.Agreement(as_day(effective_from), rule)


@lru_cache(maxsize=20_000)
def as_day(value: Any) -> Any:
    """A day as the engine gives it: SQLite has no dates and keeps them as ISO 8601."""
    return dt.date.fromisoformat(value) if isinstance(value, str) else value


@lru_cache(maxsize=20_000)
def _day_of(instant: Any, zone: str) -> dt.date:
    """The day of an instant in a zone; SQLite keeps instants as text in UTC."""
    if isinstance(instant, str):
        instant = dt.datetime.fromisoformat(instant).replace(tzinfo=dt.UTC)
    return line_calendar.local_day(instant, zone)
