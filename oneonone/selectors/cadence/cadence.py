"""The cadence of the lines below a lead: dates only.

No class here has a field that could hold a topic, a note, a number of topics or the reason of a pause.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from oneonone import cadence
from oneonone.cadence.standing import Kind
from oneonone.selectors.cadence import lines_below, reporting_tree
from oneonone.selectors.cadence.lines_below import Row

# What needs attention comes first; within a kind, the longest silence.
_RANK: dict[Kind, int] = {"never met": 0, "over": 1, "runs out": 2, "within": 3, "paused": 4}
_SOON = dt.timedelta(days=7)
_AHEAD = dt.timedelta(weeks=4)
SOON = "soon"


@dataclass(frozen=True)
class Wanted:
    """The filter of the cadence page. Empty values mean all.

    ``standing`` is a kind of standing, or ``SOON``: runs out within four weeks, and no date is confirmed.
    """

    standing: str = ""
    manager: str = ""
    name: str = ""

    def __bool__(self) -> bool:
        return bool(self.standing or self.manager or self.name)

    def fits(self, row: Row) -> bool:
        """Return whether a line matches. Names match by any part, without regard to case."""
        return (
            (not self.standing or row.standing == self.standing or (self.standing == SOON and runs_out(row)))
            and (not self.manager or self.manager.casefold() in row.manager.casefold())
            and (not self.name or self.name.casefold() in row.report.casefold())
        )


ALL = Wanted()


@dataclass(frozen=True)
class Sums:
    """The numbers of the sentence on the page.

    ``longest`` is the longest silence in days, paused lines excluded.
    """

    lines: int
    over: int
    never_met: int
    runs_out: int
    paused: int
    longest: int

    @property
    def attention(self) -> int:
        """How many are past their interval or have never been held."""
        return self.over + self.never_met


@dataclass(frozen=True)
class Group:
    """The lines of one manager, most urgent first."""

    manager: str
    sums: Sums
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Team:
    """The lines a lead sees, most urgent first; ``sums`` are of all, ``rows`` of those wanted.

    ``soon`` are those whose interval ends within four weeks and to which nobody has confirmed a date by then.
    """

    rows: tuple[Row, ...]
    soon: tuple[Row, ...]
    sums: Sums
    everyone: bool
    has_more_below: bool
    today: dt.date


def team(lead: Person, *, now: dt.datetime, everyone: bool = False, wanted: Wanted = ALL) -> Team:
    """The lead's own reports, or with ``everyone`` all lines below them too."""
    seen = lines_below.below(lead, now=now, everyone=everyone)
    seen.sort(key=_attention)
    rows = [row for row in seen if wanted.fits(row)] if wanted else seen
    own = sum(row.is_own for row in seen)
    return Team(
        rows=tuple(rows),
        soon=tuple(
            sorted(filter(runs_out, rows), key=lambda row: (row.due or row.today, row.report.casefold()))
        ),
        sums=sums_of(seen),
        everyone=everyone,
        has_more_below=len(seen) > own if everyone else reporting_tree.has_more_below(lead),
        today=cadence.local(now, lead.zone).date(),
    )


def _attention(row: Row) -> tuple[int, int, str, UUID | str]:
    return _RANK[row.standing], -row.silence, row.report.casefold(), row.key


def sums_of(rows: Iterable[Row]) -> Sums:
    """How many lines stand how, and the longest silence among them."""
    lines = over = never_met = runs_out = paused = longest = 0
    for row in rows:
        lines += 1
        kind = row.standing
        if kind == "paused":
            paused += 1
            continue
        longest = max(longest, row.silence)
        over += kind == "over"
        never_met += kind == "never met"
        runs_out += kind == "runs out" and row.days <= _SOON.days
    return Sums(lines, over, never_met, runs_out, paused, longest)


def runs_out(row: Row) -> bool:
    """Whether a line's interval ends in the next four weeks and nobody has confirmed a date by then.

    Dates that nobody confirmed do not count, because they can pass unnoticed.
    """
    due = row.due
    if due is None or row.standing == "paused" or not row.today <= due <= row.today + _AHEAD:
        return False
    return not (row.next_confirmed and row.next_day is not None and row.next_day <= due)


def by_manager(rows: Sequence[Row]) -> list[Group]:
    """The same lines by manager: first whoever has the largest number that need attention."""
    grouped: defaultdict[UUID | str, list[Row]] = defaultdict(list)
    for row in rows:
        # A manager who has not joined is only a name, so each of their lines is a group of its own.
        grouped[row.manager_key or row.key].append(row)
    groups = [Group(found[0].manager, sums_of(found), tuple(found)) for found in grouped.values()]
    groups.sort(key=lambda group: (-group.sums.attention, -group.sums.longest, group.manager.casefold()))
    return groups


def in_pages(groups: Sequence[Group], *, most: int) -> list[tuple[Group, ...]]:
    """Divide groups into pages of at most that many lines. A manager's group is never divided."""
    pages: list[list[Group]] = []
    room = 0
    for group in groups:
        if not pages or group.sums.lines > room:
            pages.append([])
            room = most
        pages[-1].append(group)
        room -= group.sums.lines
    return [tuple(page) for page in pages]
