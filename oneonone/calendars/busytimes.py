"""Busy times from a person's calendar: start and end times, nothing else of the file.

Entries count as RFC 5545 means them: cancelled and transparent ones take no time, days are whole days on the
reader's clocks, times without a zone are on the reader's clocks too. Repetitions are followed inside a
window of time only; a moved instance takes the place of the one it was. Definitions of zones in the file are
not read: a zone is known by its name. EXRULE, which RFC 5545 no longer has, is not read.
"""

from __future__ import annotations

import datetime as dt
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

import icalendar
from icalendar.timezone.windows_to_olson import WINDOWS_TO_OLSON

from oneonone.calendars import recurrence
from oneonone.calendars.recurrence import Budget
from oneonone.calendars.reduced import ZONE, reduced
from oneonone.calendars.refusals import CutShort, TooManyTimes, UnknownZone, UnreadableEntry

Block = tuple[dt.datetime, dt.datetime]

DAY = dt.timedelta(days=1)
NOTHING = dt.timedelta()
# Longer than any window. An entry that starts earlier than this before the window has ended, or covers the
# whole window.
LONGEST = dt.timedelta(days=400)
FURTHEST_SHIFT = dt.timedelta(days=60)
MOST_INSTANCES = 200_000
MOST_BLOCKS = 4_000


@dataclass(frozen=True)
class _Moment:
    """A time as the file has it: on the clocks of a zone, or a whole day."""

    wall: dt.datetime
    zone: ZoneInfo
    is_day: bool = False

    @property
    def instant(self) -> dt.datetime:
        """In UTC; a time that the clocks skip moves on, one they repeat is the first (RFC 5545 3.3.5)."""
        return self.wall.replace(tzinfo=self.zone, fold=0).astimezone(dt.UTC)

    def at(self, wall: dt.datetime) -> _Moment:
        """Another time of the same kind."""
        return _Moment(wall, self.zone, self.is_day)


@dataclass(frozen=True)
class _Event:
    uid: str
    start: _Moment
    length: dt.timedelta
    takes_time: bool
    rule: dict[str, Any] | None
    extra: tuple[tuple[_Moment, dt.timedelta | None], ...]
    left_out: tuple[_Moment, ...]
    instead_of: _Moment | None
    and_later: bool


def read(data: bytes, *, zone: str, first: dt.datetime, until: dt.datetime) -> tuple[Block, ...]:
    """When a calendar file says that its owner is busy between two instants: in UTC, in order, apart.

    ``zone`` is the owner's. Entries that overlap or touch are one block, and what reaches over an edge is
    cut there. Raises a ``CalendarRefusal``.
    """
    budget = Budget()
    try:
        calendars = icalendar.Calendar.from_ical(reduced(data, budget), multiple=True)
    except (ValueError, IndexError, KeyError):
        raise CutShort from None
    home = ZoneInfo(zone)
    series: defaultdict[str, list[_Event]] = defaultdict(list)
    try:
        for number, component in enumerate(event for one in calendars for event in one.walk("VEVENT")):
            event = _event(component, home)
            series[event.uid or f"\0{number}"].append(event)
    except OverflowError:
        raise UnreadableEntry from None
    found = merged(_within(series.values(), first, until, budget))
    if len(found) > MOST_BLOCKS:
        raise TooManyTimes
    return found


def _within(
    series: Iterable[Sequence[_Event]], first: dt.datetime, until: dt.datetime, budget: Budget
) -> Iterator[Block]:
    """The blocks between two instants, not merged yet."""
    instances = 0
    try:
        for events in series:
            for begins, ends in _blocks(events, first, until, budget):
                instances += 1
                if instances > MOST_INSTANCES:
                    raise TooManyTimes
                if begins < until and ends > first and begins < ends:
                    yield max(begins, first), min(ends, until)
    except (OverflowError, ValueError):
        raise UnreadableEntry from None


def merged(blocks: Iterable[Block]) -> tuple[Block, ...]:
    """Blocks in order, those that overlap or touch made one."""
    found: list[Block] = []
    for begins, ends in sorted(blocks):
        if found and begins <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], ends))
        else:
            found.append((begins, ends))
    return tuple(found)


@dataclass(frozen=True)
class _Instead:
    """The replacements of instances of a series, by the original start.

    ``later`` are the changes of an instance and all after it, in the order of the instants in ``since``.
    """

    instants: frozenset[dt.datetime]
    days: frozenset[dt.date]
    since: tuple[dt.datetime, ...]
    later: tuple[tuple[_Moment, _Event], ...]

    @classmethod
    def of(cls, events: Sequence[_Event]) -> _Instead:
        pairs = [(event.instead_of, event) for event in events if event.instead_of is not None]
        gone = [moment for moment, _event in pairs]
        later: dict[dt.datetime, tuple[_Moment, _Event]] = {}
        for moment, event in pairs:
            if event.and_later:
                later.setdefault(moment.instant, (moment, event))
        since = tuple(sorted(later))
        return cls(
            frozenset(moment.instant for moment in gone if not moment.is_day),
            frozenset(moment.wall.date() for moment in gone if moment.is_day),
            since,
            tuple(later[instant] for instant in since),
        )

    def changed(self, instant: dt.datetime) -> tuple[_Moment, _Event] | None:
        """The latest change that an instance at this instant falls under."""
        place = bisect_right(self.since, instant)
        return self.later[place - 1] if place else None


def _blocks(
    events: Sequence[_Event], first: dt.datetime, until: dt.datetime, budget: Budget
) -> Iterator[Block]:
    """The blocks of all events with one UID: the series, and the instances that stand instead of its own."""
    instead = _Instead.of(events)
    for event in events:
        if not event.takes_time:
            continue
        if event.instead_of is not None:
            yield _block(event.start, event.length)
        else:
            yield from _instances(event, instead, first, until, budget)


def _instances(
    event: _Event, instead: _Instead, first: dt.datetime, until: dt.datetime, budget: Budget
) -> Iterator[Block]:
    instants = {moment.instant for moment in event.left_out if not moment.is_day}
    # An exception that is a day is about the instance of that day, also of an event with a time.
    days = {moment.wall.date() for moment in event.left_out if moment.is_day}
    reach = DAY + (FURTHEST_SHIFT if instead.later else NOTHING)
    for start, length in _starts(event, first - reach, until + reach, budget):
        instant, day = start.instant, start.wall.date()
        if instant in instants or instant in instead.instants or day in days or day in instead.days:
            continue
        changed = instead.changed(instant)
        if changed is None:
            yield _block(start, length)
            continue
        was, becomes = changed
        if becomes.takes_time:
            yield _block(becomes.start.at(start.wall + (becomes.start.wall - was.wall)), becomes.length)


def _starts(
    event: _Event, first: dt.datetime, until: dt.datetime, budget: Budget
) -> Iterator[tuple[_Moment, dt.timedelta]]:
    """Return every start of an event once: its own start, those of its rule and its further dates."""
    yield event.start, event.length
    walls = {event.start.wall}
    if event.rule is not None:
        zone = event.start.zone
        rule = {**event.rule, "UNTIL": _until(event.rule.get("UNTIL"), event.start)}
        found = recurrence.starts(
            rule,
            event.start.wall,
            after=first.astimezone(zone).replace(tzinfo=None) - event.length,
            before=until.astimezone(zone).replace(tzinfo=None),
            budget=budget,
        )
        for wall in found:
            if wall not in walls:
                walls.add(wall)
                yield event.start.at(wall), event.length
    for moment, length in event.extra:
        yield moment, event.length if length is None else length


def _until(values: Any, start: _Moment) -> list[dt.datetime]:
    """The last possible start on the clocks of the event."""
    found = []
    for value in values if isinstance(values, list) else [values] if values else []:
        if not isinstance(value, dt.datetime):
            found.append(dt.datetime.combine(value, dt.time.max))
        elif value.tzinfo is None:
            found.append(value)
        else:
            found.append(value.astimezone(start.zone).replace(tzinfo=None))
    return found


def _block(start: _Moment, length: dt.timedelta) -> Block:
    if start.is_day:
        return start.instant, start.at(start.wall + length).instant
    begins = start.instant
    return begins, begins + length


def _event(component: Any, home: ZoneInfo) -> _Event:
    if component.errors or "DTSTART" not in component:
        raise UnreadableEntry
    start = _moment(_single(component, "DTSTART"), home)
    status, transparency = (str(component.get(name, "")).upper() for name in ("STATUS", "TRANSP"))
    instead_of = component.get("RECURRENCE-ID")
    rule = _single(component, "RRULE")
    return _Event(
        uid=str(component.get("UID", "")),
        start=start,
        length=_length(component, start, home),
        takes_time=status != "CANCELLED" and transparency != "TRANSPARENT",
        rule={name.upper(): values for name, values in rule.items()} if rule is not None else None,
        extra=tuple(_listed(component, "RDATE", home)),
        left_out=tuple(moment for moment, _length in _listed(component, "EXDATE", home)),
        instead_of=_moment(instead_of, home) if instead_of is not None else None,
        and_later=instead_of is not None and _is_and_later(instead_of),
    )


def _is_and_later(value: Any) -> bool:
    return str(value.params.get("RANGE", "")).upper() == "THISANDFUTURE"


def _single(component: Any, name: str) -> Any:
    value = component.get(name)
    if isinstance(value, list):
        raise UnreadableEntry
    return value


def _length(component: Any, start: _Moment, home: ZoneInfo) -> dt.timedelta:
    ends, lasts = _single(component, "DTEND"), _single(component, "DURATION")
    if ends is not None:
        end = _moment(ends, home)
        length = end.wall - start.wall if start.is_day else end.instant - start.instant
    elif lasts is not None and isinstance(lasts.dt, dt.timedelta):
        length = lasts.dt
    else:
        length = NOTHING
    # A whole-day entry without an end, or that ends on its own day, is one day (RFC 5545 3.6.1).
    return min(max(length, DAY if start.is_day else NOTHING), LONGEST)


def _listed(component: Any, name: str, home: ZoneInfo) -> Iterator[tuple[_Moment, dt.timedelta | None]]:
    """The values of a list of dates, times or periods, and how long the periods are."""
    values = component.get(name) or []
    for row in values if isinstance(values, list) else [values]:
        for value in row.dts:
            if not isinstance(value.dt, tuple):
                yield _as_moment(value.dt, row.params, home), None
                continue
            begins = _as_moment(value.dt[0], row.params, home)
            ends = value.dt[1]
            if not isinstance(ends, dt.timedelta):
                ends = _as_moment(ends, row.params, home).instant - begins.instant
            yield begins, min(max(ends, NOTHING), LONGEST)


def _moment(value: Any, home: ZoneInfo) -> _Moment:
    if isinstance(value, list) or not isinstance(getattr(value, "dt", None), dt.date):
        raise UnreadableEntry
    return _as_moment(value.dt, value.params, home)


def _as_moment(value: Any, params: Any, home: ZoneInfo) -> _Moment:
    if not isinstance(value, dt.date):
        raise UnreadableEntry
    if not isinstance(value, dt.datetime):
        return _Moment(dt.datetime.combine(value, dt.time()), home, is_day=True)
    if value.tzinfo is not None:
        return _Moment(value.replace(tzinfo=None), ZoneInfo("UTC"))
    named = params.get(ZONE)
    return _Moment(value, zone_named(str(named)) if named else home)


@lru_cache(maxsize=1)
def _known() -> dict[str, str]:
    """Map possible spellings of a zone name to the spelling in the time zone database."""
    return {name.casefold(): name for name in sorted(available_timezones() - {"Factory", "localtime"})}


@lru_cache(maxsize=256)
def zone_named(name: str) -> ZoneInfo:
    """The zone of a name: the database's own, Windows', or one behind a prefix such as ``/example.org/``.

    Raises UnknownZone. What a file says that such a zone's rules are is not asked.
    """
    name = name.strip().strip('"')
    name = WINDOWS_TO_OLSON.get(name, name)
    parts = name.split("/")
    for place in range(min(len(parts), 6)):
        if known := _known().get("/".join(parts[place:]).casefold()):
            return ZoneInfo(known)
    raise UnknownZone
