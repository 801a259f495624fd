"""How long topics of a kind have run in a line, against the minutes they were planned for.

Counted are topics that were discussed in a held meeting and timed by its page: taken up with a box, and left
while the meeting went on. Not counted is the one that ran when the meeting was closed, because what was read
back ran with it; one of less than half a minute, which was only passed over; and one that took more than four
times its minutes or less than a quarter, where the clock tells of something else.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID

from django.db.models import F, QuerySet

from oneonone.models import KindFactor, Line, Meeting, Order, Placement, Side
from oneonone.planner import calibration
from oneonone.planner.calibration import Factor

# A line has history from so many held meetings with counted topics on, and for a kind from so many topics.
MEETINGS_NEEDED, TOPICS_NEEDED = 3, 3
# The newest so many timed topics of a line are looked at: people change.
MOST_TOPICS = 200
FAR_OFF = 4

Pairs = Mapping[str, Sequence[tuple[int, int]]]


@dataclass(frozen=True)
class Timed:
    """One counted topic: its kind, the meeting, and the minutes it was planned for and took."""

    line: UUID
    meeting: UUID
    kind: str
    planned: int
    actual: int


@dataclass(frozen=True)
class History:
    """What a line's page shows of it: which sides use it, and how each kind runs.

    ``meetings`` is how many held meetings have counted topics.
    """

    manager_uses: bool
    report_uses: bool
    meetings: int
    kinds: Mapping[str, Factor]

    @property
    def is_used(self) -> bool:
        return self.manager_uses and self.report_uses

    @property
    def meetings_needed(self) -> int:
        """How many more held meetings it takes before the line has history."""
        return max(0, MEETINGS_NEEDED - self.meetings)

    @property
    def topics_needed(self) -> int:
        """How many topics of a kind it takes."""
        return TOPICS_NEEDED

    def used_by(self, side: Side) -> bool:
        return self.manager_uses if side is Side.MANAGER else self.report_uses


def of_line(line: Line) -> History:
    """The history of one line, for its two sides. Two queries at most, whatever its length."""
    found = list(_counted(_timed(line__pk=line.pk).order_by("-meeting__held_on", "-began_at")[:MOST_TOPICS]))
    meetings = len({one.meeting for one in found})
    pairs = enough(found)
    kinds = calibration.factors(pairs, of_server(), calibration.LINES_NEEDED) if pairs else {}
    return History(line.manager_uses_history, line.report_uses_history, meetings, kinds)


def factors(line: Line) -> dict[str, Fraction]:
    """The factor of each kind that a new order is made with; none while either side has it off."""
    if not (line.manager_uses_history and line.report_uses_history):
        return {}
    return {kind: one.factor for kind, one in of_line(line).kinds.items()}


def of_server() -> dict[str, Fraction]:
    """The server's factors by kind. A kind that fewer than ten lines stand behind has none."""
    return {row.kind: Fraction(row.hundredths, 100) for row in KindFactor.objects.all()}


def enough(found: Iterable[Timed]) -> Pairs:
    """The (planned, actual) minutes of a line's topics by kind, of those kinds that have enough to go by."""
    rows = list(found)
    if len({one.meeting for one in rows}) < MEETINGS_NEEDED:
        return {}
    pairs: dict[str, list[tuple[int, int]]] = {}
    for one in rows:
        pairs.setdefault(one.kind, []).append((one.planned, one.actual))
    return {kind: of_kind for kind, of_kind in pairs.items() if len(of_kind) >= TOPICS_NEEDED}


def of_all_lines(since: dt.date) -> Iterable[Timed]:
    """The counted topics of all lines that use their history, held from a day on, line by line."""
    rows = _timed(line__manager_uses_history=True, line__report_uses_history=True, held_on__gte=since)
    return _counted(rows.order_by("meeting__line", "pk"))


def planned_minutes(order: Order | None, key: str) -> int | None:
    """The minutes a version of the order boxes a topic for, before what the history made of those asked."""
    slots = [] if order is None else order.plan["slots"]
    slot = next((slot for slot in slots if slot["key"] == key), None)
    if slot is None:
        return None
    minutes = int(slot["end"] - slot["start"])
    numbers: dict[str, int] = dict(slot["length"]["numbers"])
    if "asked" not in numbers:
        return minutes
    calibrated = numbers.get("wanted", numbers["minutes"])
    return max(1, calibration.boxed(minutes, Fraction(numbers["asked"], calibrated)))


def _timed(**of_meeting: object) -> QuerySet[Placement]:
    return Placement.objects.filter(
        **{f"meeting__{name}": value for name, value in of_meeting.items()},
        meeting__state=Meeting.State.CLOSED,
        outcome__in=(Placement.Outcome.DISCUSSED, Placement.Outcome.CONTINUES),
        minutes_planned__isnull=False,
        began_at__isnull=False,
        ended_at__lt=F("meeting__ended_at"),
    )


def _counted(rows: QuerySet[Placement]) -> Iterator[Timed]:
    columns = ("meeting__line", "meeting", "topic__kind", "minutes_planned", "began_at", "ended_at")
    for line, meeting, kind, planned, began, ended in rows.values_list(*columns).iterator(chunk_size=2000):
        actual = (ended - began + dt.timedelta(seconds=30)) // dt.timedelta(minutes=1)
        if actual >= 1 and planned <= FAR_OFF * actual and actual <= FAR_OFF * planned:
            yield Timed(line, meeting, kind, planned, actual)
