"""Local time in a named zone, and the instant it stands for."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from difflib import get_close_matches
from functools import lru_cache
from zoneinfo import ZoneInfo, available_timezones

from oneonone.cadence.refusals import CadenceRefusal, UnknownZone

# Entries of the database that are not zones: a placeholder and the machine's own setting.
NOT_PLACES = frozenset({"Factory", "localtime"})


@lru_cache(maxsize=1)
def zone_names() -> frozenset[str]:
    """Every accepted zone: the names of the IANA time zone database on this machine."""
    return frozenset(available_timezones() - NOT_PLACES)


@lru_cache(maxsize=1024)
def check_zone(name: str) -> str:
    """Give the name back if the time zone database holds it, spelt exactly so; else `UnknownZone`."""
    if name in zone_names():
        return name
    near = get_close_matches(name, zone_names(), n=3)
    places = ", ".join(near) if near else "Europe/London, America/New_York, UTC"
    raise UnknownZone("zone", f"a name of the IANA time zone database, such as {places}", name)


def start_instant(day: date, at: time, zone: str) -> datetime:
    """The UTC instant of a local time on a day.

    A local time that a clock change skips is read with the offset before the gap, and so moves
    forward by the length of the gap; one that a clock change repeats is its first occurrence
    (RFC 5545, 3.3.5). RFC 5545 3.3.10 also says that skipped times are ignored in a recurrence:
    3.3.5 is followed here, because it loses no meeting.
    """
    if at.tzinfo is not None:
        raise CadenceRefusal("time", "a local time without an offset", at)
    local = datetime.combine(day, at.replace(fold=0), tzinfo=ZoneInfo(check_zone(zone)))
    return local.astimezone(UTC)


def end_of_day(day: date, zone: str) -> datetime:
    """The UTC instant of the last minute of a local day, so that it is shown with that day's date.

    Counted back from the next midnight: a day whose last hour comes twice ends with the second.
    """
    return start_instant(day + timedelta(days=1), time(0), zone) - timedelta(minutes=1)


def clock_changes(zone: str, first: date, until: date) -> tuple[tuple[datetime, timedelta], ...]:
    """When the clocks of a zone change between two days, and to which offset, in UTC and to the minute.

    Two versions of the time zone database place a zone's meetings alike if these are equal, and the
    offset on the first day is: what was computed with other changes is due to be computed again. Days
    are compared at midnight UTC, so that a change undone within one day is not seen.
    """
    there = ZoneInfo(check_zone(zone))
    midnight = datetime.combine(first, time(0), tzinfo=UTC)
    changes = []
    for _ in range((until - first).days):
        following = midnight + timedelta(days=1)
        if _offset(midnight, there) != _offset(following, there):
            changes.append(_change(midnight, following, there))
        midnight = following
    return tuple(changes)


def _change(earlier: datetime, later: datetime, there: ZoneInfo) -> tuple[datetime, timedelta]:
    offset = _offset(later, there)
    while later - earlier > timedelta(minutes=1):
        middle = earlier + timedelta(minutes=(later - earlier) // timedelta(minutes=2))
        if _offset(middle, there) == offset:
            later = middle
        else:
            earlier = middle
    return later, offset


def _offset(instant: datetime, there: ZoneInfo) -> timedelta:
    return instant.astimezone(there).utcoffset() or timedelta(0)


def local(instant: datetime, zone: str) -> datetime:
    """Return an instant in local time of a zone."""
    if instant.tzinfo is None:
        raise CadenceRefusal("instant", "a datetime with an offset", instant)
    return instant.astimezone(ZoneInfo(check_zone(zone)))
