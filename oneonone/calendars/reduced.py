"""The lines of a calendar file that contain times, and no others.

A calendar contains titles, places, people and notes. They are removed here line by line, before a parser sees
the file, so that no error, log or row can contain them. Left out with them is
whatever could make a parser work long: other components, definitions of zones, and all but a few properties.
The form of the lines is that of RFC 5545, 3.1: unfolded by a space or tab at their beginning.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from oneonone.calendars.recurrence import Budget
from oneonone.calendars.refusals import CutShort, NotACalendar, TooDeep, TooLarge

MOST_BYTES = 2 * 1024 * 1024
MOST_EVENTS = 5_000
MOST_LINE_BYTES = 64 * 1024
MOST_LINES = 60_000  # of those kept: every property once in each of the most events
DEEPEST = 4
# What a value of a list costs beside a step of a daily rule, as measured with icalendar 7.3: somewhat more.
VALUE_WEIGHT = {b"EXDATE": 40, b"RDATE": 40, b"RRULE": 8}

WHEN = frozenset(
    {
        b"UID", b"DTSTART", b"DTEND", b"DURATION", b"RRULE", b"RDATE", b"EXDATE", b"RECURRENCE-ID",
        b"STATUS", b"TRANSP",
    }
)  # fmt: skip
CALENDAR, EVENT = b"VCALENDAR", b"VEVENT"
# Renamed so that the parser does not look up the zone and leaves the time as written.
ZONE = "X-TZID"
ZONE_OF_FILE = re.compile(rb";TZID=", re.IGNORECASE)


def reduced(data: bytes, budget: Budget) -> bytes:
    """The events of a file with the properties that say when, as one calendar.

    Refused: more than 2 MB, 5,000 events, or 60,000 lines or a line of 64 KB among those kept; what does not
    begin as a calendar or holds NUL; components deeper than four, or that do not close in their order; more
    further dates, exceptions and parts of rules than ``budget`` pays for.
    """
    if len(data) > MOST_BYTES:
        raise TooLarge
    data = data.removeprefix(b"\xef\xbb\xbf").lstrip()
    if b"\0" in data or not data[:40].upper().startswith(b"BEGIN:VCALENDAR"):
        raise NotACalendar
    kept = [b"BEGIN:VCALENDAR", b"VERSION:2.0", *_events(data, budget), b"END:VCALENDAR", b""]
    return b"\r\n".join(kept)


def _events(data: bytes, budget: Budget) -> Iterator[bytes]:
    inside: list[bytes] = []
    events = lines = 0
    for name, line in _lines(data):
        if name == b"BEGIN":
            inside.append(_component(line))
            events += inside[1:] == [EVENT]
            if len(inside) > DEEPEST:
                raise TooDeep
        if inside[:1] != [CALENDAR]:
            raise CutShort
        kept = inside[1:] == [EVENT] and name in (b"BEGIN", b"END", *WHEN)
        lines += kept
        if events > MOST_EVENTS or lines > MOST_LINES:
            raise TooLarge
        if kept:
            budget.spend(VALUE_WEIGHT.get(name, 0) * (line.count(b",") + 1))
            yield ZONE_OF_FILE.sub(b";" + ZONE.encode() + b"=", line, count=1)
        if name == b"END" and _component(line) != inside.pop():
            raise CutShort
    if inside:
        raise CutShort


def _component(line: bytes) -> bytes:
    return line.partition(b":")[2].strip().upper()


def _lines(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """The unfolded lines with the names of their properties; of those not kept, no more than the name."""
    name, size = b"", 0
    parts: list[bytes] = []
    for piece in data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n"):
        if piece[:1] in (b" ", b"\t"):
            if parts:
                parts.append(piece[1:])
                size += len(piece)
                if size > MOST_LINE_BYTES:
                    raise TooLarge
            continue
        if parts:
            yield name, b"".join(parts)
        name = piece[:40].partition(b":")[0].partition(b";")[0].strip().upper()
        parts = [piece] if name in (b"BEGIN", b"END", *WHEN) else []
        size = len(piece)
        if parts and size > MOST_LINE_BYTES:
            raise TooLarge
    if parts:
        yield name, b"".join(parts)
