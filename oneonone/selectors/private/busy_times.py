"""When the reader is busy by their own calendar, as far as it was read. Nobody else's is ever looked at."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from accounts.models import Person
from oneonone.models import BusyTimes, BusyWeek
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys

Block = tuple[dt.datetime, dt.datetime]

WEEKS = 13
WEEK = dt.timedelta(weeks=1)
MINUTE = dt.timedelta(minutes=1)
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(frozen=True)
class Kept:
    """The stored busy times of a calendar: when it was read, its last day, and the future blocks.

    ``cannot_open``: some of them cannot be opened on this server, and the file has to be added again.
    """

    read_on: dt.date
    until: dt.date
    blocks: tuple[Block, ...]
    cannot_open: bool


def week_of(instant: dt.datetime) -> dt.date:
    """The Monday of an instant's week in UTC."""
    day = instant.astimezone(dt.UTC).date()
    return day - dt.timedelta(days=day.weekday())


def window(now: dt.datetime) -> Block:
    """The period that is read from a calendar: from now to the end of the thirteenth week, in UTC."""
    ends = dt.datetime.combine(week_of(now) + WEEKS * WEEK, dt.time(), tzinfo=dt.UTC)
    return now.replace(second=0, microsecond=0), ends


def of(reader: Person, *, now: dt.datetime) -> tuple[Block, ...]:
    """The reader's busy times from now on, in order. Two queries."""
    found, _cannot_open = _read(reader, now)
    return found


def is_kept(reader: Person, *, now: dt.datetime) -> bool:
    """Whether the reader has stored busy times for now or later."""
    return BusyTimes.objects.filter(owner=reader, latest_week__gte=week_of(now)).exists()


def kept(reader: Person, *, now: dt.datetime) -> Kept | None:
    """The reader's stored busy times, or None."""
    row = BusyTimes.objects.filter(owner=reader, latest_week__gte=week_of(now)).first()
    if row is None:
        return None
    blocks, cannot_open = _read(reader, now)
    return Kept(row.read_on, last_day(row), blocks, cannot_open)


def last_day(row: BusyTimes) -> dt.date:
    """The last day up to which a calendar was read."""
    return row.latest_week + WEEK - dt.timedelta(days=1)


def _read(reader: Person, now: dt.datetime) -> tuple[tuple[Block, ...], bool]:
    opener, found, cannot_open = keys.Opener(reader), list[Block](), False
    for row in BusyWeek.objects.of(reader).filter(week__gte=week_of(now)).order_by("week"):
        try:
            found += [(_instant(begins), _instant(ends)) for begins, ends in opener.open(row)["blocks"]]
        except CannotOpen:
            cannot_open = True
    return tuple(block for block in _joined(found) if block[1] > now), cannot_open


def _instant(minutes: int) -> dt.datetime:
    return EPOCH + minutes * MINUTE


def _joined(blocks: list[Block]) -> list[Block]:
    """Blocks in order. Blocks that were cut at the end of a week are joined again."""
    found: list[Block] = []
    for begins, ends in blocks:
        if found and begins <= found[-1][1]:
            found[-1] = (found[-1][0], max(ends, found[-1][1]))
        else:
            found.append((begins, ends))
    return found
