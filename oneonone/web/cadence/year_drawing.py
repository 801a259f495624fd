"""The picture of a line's year as SVG shapes: paths that the template puts into attributes, nothing else.

A month is as wide as any other, so that names of months line up above it. Shapes are told apart by form; the
style sheet gives them the ink of the words, whatever the theme. A strip holds five months: a phone shows the
three strips below each other.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from oneonone.selectors.cadence.year import MONTHS, Mark, Span, Year

MONTH, HEIGHT, MIDDLE = 44, 24, 12
WIDTH = MONTH * MONTHS
STRIP = 5 * MONTH
# As far as a mark reaches to either side: one at the edge of a strip is drawn whole, inside it.
REACH = 7


@dataclass(frozen=True)
class Drawing:
    """Path data in units of a picture ``WIDTH`` by ``HEIGHT``; empty where there is nothing to draw."""

    base: str
    paused: str
    past: str
    today: str
    held: str
    confirmed: str
    by_interval: str
    not_said: str
    called_off: str
    not_held: str
    moved: str


def of_year(year: Year) -> Drawing:
    """The shapes of a year."""

    def marks(kind: str, shape: Callable[[int], str]) -> str:
        return "".join(shape(at(mark.day, year)) for mark in year.marks if mark.kind == kind)

    today = at(year.today, year)
    begins = left(max(year.first, year.began), year) if year.began <= year.last else WIDTH
    return Drawing(
        base=f"M{begins} {MIDDLE}H{WIDTH}",
        paused="".join(_two_lines(*_ends(span, year)) for span in year.paused),
        past="".join(_box(*_ends(span, year)) for span in year.past),
        today=f"M{today} 0V{HEIGHT}",
        held=marks("held", dot),
        confirmed=marks("confirmed", ring),
        by_interval=marks("by interval", ring),
        not_said=marks("not said", lambda x: ring(x) + dot(x)),
        called_off=marks("called off", cross),
        not_held=marks("not held", diamond),
        moved="".join(_hooks(year.marks, year)),
    )


def left(day: dt.date, year: Year) -> int:
    """Where a day begins."""
    months = (day.year - year.first.year) * 12 + day.month - year.first.month
    length = calendar.monthrange(day.year, day.month)[1]
    return round(MONTH * (months + (day.day - 1) / length))


def at(day: dt.date, year: Year) -> int:
    """Where the mark of a day stands: in the middle of the day, whole inside its strip."""
    length = calendar.monthrange(day.year, day.month)[1]
    x = left(day, year) + MONTH // length // 2
    strip = min(max(x, 0), WIDTH - 1) // STRIP * STRIP
    return min(max(x, strip + REACH), strip + STRIP - REACH)


def _ends(span: Span, year: Year) -> tuple[int, int]:
    first = left(span.first, year)
    return first, max(first + 2, left(span.last + dt.timedelta(days=1), year))


def dot(x: int) -> str:
    """A line of no length, which a round stroke makes a dot."""
    return f"M{x} {MIDDLE}h0"


def ring(x: int) -> str:
    return f"M{x - 4.5} {MIDDLE}a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0"


def cross(x: int) -> str:
    return f"M{x - 5} 7l10 10m0-10l-10 10"


def diamond(x: int) -> str:
    return f"M{x} 6l6 6-6 6-6-6z"


def _two_lines(first: int, last: int) -> str:
    return f"M{first} 9H{last}M{first} 15H{last}"


def _box(first: int, last: int) -> str:
    return f"M{first} 6H{last}V18H{first}z"


def _hooks(marks: Iterable[Mark], year: Year) -> Iterable[str]:
    """From the days a meeting was moved from, along the upper edge, down to where it came to stand."""
    for mark in marks:
        to = at(mark.day, year)
        for before in mark.moved_from:
            if year.first <= before <= year.last:
                start = at(before, year)
                if abs(start - to) < REACH:
                    start = to - REACH if before < mark.day else to + REACH
                yield f"M{start} 8V2H{to}V5"
