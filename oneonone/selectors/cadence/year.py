"""The data of a line's picture: the last twelve months and the planned meetings. Dates only.

No class here has a field that could hold a topic, a note, a number of topics or the reason of a pause.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from django.db.models import Exists, Max, OuterRef

from oneonone import cadence
from oneonone.models import HeldClaim, Meeting, Move
from oneonone.selectors.cadence.lines_below import Row
from oneonone.selectors.dates import line_calendar

Kind = Literal["held", "confirmed", "by interval", "called off", "not held", "not said"]

MONTHS_BACK = 12
MONTHS_AHEAD = 2
MONTHS = MONTHS_BACK + 1 + MONTHS_AHEAD
_DAY = dt.timedelta(days=1)
_KINDS: dict[str, Kind] = {
    Meeting.State.CLOSED: "held",
    Meeting.State.CALLED_OFF: "called off",
    Meeting.State.NOT_HELD: "not held",
}


@dataclass(frozen=True)
class Span:
    """Days in a row, the first and the last one included."""

    first: dt.date
    last: dt.date


@dataclass(frozen=True)
class Mark:
    """One meeting on its day. ``moved_from`` are the days it was moved from, oldest first.

    ``not said``: its time has passed, and nobody has said whether it was held.
    """

    day: dt.date
    kind: Kind
    moved_from: tuple[dt.date, ...] = ()


@dataclass(frozen=True)
class Year:
    """Whole months, from the one twelve months ago to two months ahead of a line's own ``today``.

    ``began`` is the line's first day, ``past`` the days on which silence was past the interval agreed then.
    ``longest`` is the longest silence that touches the months up to today, ``share`` how many of the meetings
    held in them came within the interval agreed then.
    """

    first: dt.date
    last: dt.date
    today: dt.date
    began: dt.date
    marks: tuple[Mark, ...]
    paused: tuple[Span, ...]
    past: tuple[Span, ...]
    longest: cadence.Silence | None
    share: cadence.Share


@dataclass(frozen=True)
class _Meeting:
    """One meeting as it is read."""

    pk: UUID
    state: str
    day: dt.date
    zone: str
    confirmed: bool
    denied: bool


def months_of(today: dt.date) -> tuple[dt.date, ...]:
    """The first days of the months that a picture shows."""
    start = cadence.add_months(today.replace(day=1), -MONTHS_BACK)
    return tuple(cadence.add_months(start, n) for n in range(MONTHS))


def of_rows(rows: Sequence[Row]) -> dict[UUID, Year]:
    """The picture of each line, in three queries whatever their number."""
    if not rows:
        return {}
    ids = [row.line_id for row in rows]
    since = min(months_of(row.today)[0] for row in rows)
    meetings, before = _meetings(ids, since=since), _held_before(ids, day=since)
    moved = _moved_from(ids, meetings)
    return {pk: _year(row, meetings[pk], before.get(pk), moved) for pk, row in zip(ids, rows, strict=True)}


def _denied() -> Exists:
    return Exists(HeldClaim.objects.filter(meeting=OuterRef("pk"), held=False))


def _meetings(ids: Sequence[UUID], *, since: dt.date) -> defaultdict[UUID, list[_Meeting]]:
    start = dt.datetime.combine(since - 2 * _DAY, dt.time(), tzinfo=dt.UTC)
    rows = (
        Meeting.objects.filter(line__in=ids, starts_at__gte=start)
        .order_by("starts_at", "pk")
        .values_list("line", "pk", "state", "starts_at", "zone", "held_on", "confirmed_at", _denied())
    )
    found: defaultdict[UUID, list[_Meeting]] = defaultdict(list)
    for line_id, pk, state, starts_at, zone, held_on, confirmed_at, denied in rows:
        day = (
            held_on if state == Meeting.State.CLOSED and held_on else line_calendar.local_day(starts_at, zone)
        )
        found[line_id].append(_Meeting(pk, state, day, zone, confirmed_at is not None, denied))
    return found


def _held_before(ids: Sequence[UUID], *, day: dt.date) -> dict[UUID, dt.date]:
    """Return the last day held before the picture. The silence after it can reach into the picture."""
    held = Meeting.objects.filter(~_denied(), line__in=ids, state=Meeting.State.CLOSED, held_on__lt=day)
    return dict(held.order_by().values("line").annotate(last=Max("held_on")).values_list("line", "last"))


def _moved_from(ids: Sequence[UUID], meetings: dict[UUID, list[_Meeting]]) -> dict[UUID, list[dt.date]]:
    """The days each meeting was moved from, in its own zone."""
    zones = {meeting.pk: meeting.zone for of_line in meetings.values() for meeting in of_line}
    moves = Move.objects.filter(meeting__line__in=ids).order_by("at", "pk")
    found: defaultdict[UUID, list[dt.date]] = defaultdict(list)
    for meeting_id, from_start in moves.values_list("meeting", "from_start"):
        if meeting_id in zones:
            found[meeting_id].append(line_calendar.local_day(from_start, zones[meeting_id]))
    return found


def _year(
    row: Row, meetings: Sequence[_Meeting], before: dt.date | None, moved: dict[UUID, list[dt.date]]
) -> Year:
    months = months_of(row.today)
    first, last = months[0], cadence.add_months(months[-1], 1) - _DAY
    marks = sorted(
        (_mark(one, moved.get(one.pk, ()), row.today) for one in meetings), key=lambda mark: mark.day
    )
    held = [mark.day for mark in marks if mark.kind == "held"]
    if before is not None:
        held.insert(0, before)
    period = (held, row.began, first, row.today, row.pauses)
    silent = cadence.past_interval(row.agreements, *period)
    return Year(
        first=first,
        last=last,
        today=row.today,
        began=row.began,
        marks=tuple(mark for mark in marks if first <= mark.day <= last),
        paused=_paused(row, first, last),
        past=tuple(Span(*span) for span in silent),
        longest=cadence.longest_silence(*period),
        share=cadence.share_within(row.agreements, *period),
    )


def _mark(meeting: _Meeting, moved: Iterable[dt.date], today: dt.date) -> Mark:
    kind: Kind
    if meeting.denied:
        kind = "not held"
    elif meeting.state in _KINDS:
        kind = _KINDS[meeting.state]
    elif meeting.day < today:
        kind = "not said"
    else:
        kind = "confirmed" if meeting.confirmed else "by interval"
    return Mark(meeting.day, kind, tuple(dict.fromkeys(day for day in moved if day != meeting.day)))


def _paused(row: Row, first: dt.date, last: dt.date) -> tuple[Span, ...]:
    """Return the pauses within the picture. A pause without an end lasts to the end of the picture."""
    spans = [(pause.first, pause.last or last) for pause in row.pauses]
    return tuple(
        Span(max(first, begins), min(last, ends))
        for begins, ends in spans
        if begins <= last and ends >= first
    )
