"""Reduce a calendar file to the lines that contain times.

Titles, places, people and notes are removed line by line before any parser reads the file, so that no error,
log or row can contain them. Other components, zone definitions and most properties are removed as well,
because they could make a parser slow. Lines are unfolded as in RFC 5545, 3.1.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from oneonone.calendars.recurrence import Budget
from oneonone.calendars.refusals import CutShort, NotACalendar, TooDeep, TooLarge

MOST_BYTES = 2 * 1024 * 1024
MOST_EVENTS = 5_000
MOST_LINE_BYTES = 64 * 1024
MOST_LINES = 60_000  # of the lines kept: each property once in the maximum of events
DEEPEST = 4
# Cost of a list value relative to a step of a daily rule, rounded up, as measured with icalendar 7.3.
VALUE_WEIGHT = {b"EXDATE": 40, b"RDATE": 40, b"RRULE": 8}

WHEN = frozenset(
    {
        b"UID", b"DTSTART", b"DTEND", b"DURATION", b"RRULE", b"RDATE", b"EXDATE", b"RECURRENCE-ID",
        b"STATUS", b"TRANSP",
    }
)  # fmt: skip
CALENDAR, EVENT = b"VCALENDAR", b"VEVENT"
# With this name instead of TZID the parser looks up no zone and leaves the time as written.
ZONE = "X-TZID"
ZONE_OF_FILE = re.compile(rb";TZID=", re.IGNORECASE)


def reduced(data: bytes, budget: Budget) -> bytes:
    """The events of a file as one calendar, with only the properties about time.

    Refused: more than 2 MB; more than 5,000 events; more than 60,000 kept lines, or a kept line over 64 KB; a
    file that does not begin as a calendar or contains NUL; components nested deeper than four, or closed in
    the wrong order; more dates, exceptions and rule parts than ``budget`` allows.
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
    """The unfolded lines with their property names. Lines that are not kept have the name only."""
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
