"""The page Next: coming meetings, the reader's commitments, notices and open proposals."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q

from accounts.models import Person
from oneonone.models import Line, Meeting, Proposal
from oneonone.selectors.commitments import commitments
from oneonone.selectors.commitments.commitments import CommitmentView
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.lines import lines
from oneonone.selectors.notices import notices
from oneonone.selectors.notices.notices import NoticeView

# The page shows meetings of this period, and at least this many even if they are later.
AHEAD = dt.timedelta(weeks=8)
AT_LEAST = 3


@dataclass(frozen=True)
class Coming:
    """A coming one-on-one for the reader. ``phase`` says what can be done now.

    Phases: "under way", "today", "issued" (an order to prepare against), "collecting" (asked for topics),
    "ahead".
    """

    meeting: Meeting
    other: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    phase: str


@dataclass(frozen=True)
class Home:
    coming: tuple[Coming, ...]
    unanswered: tuple[Coming, ...]
    commitments: tuple[CommitmentView, ...]
    notices: tuple[NoticeView, ...]
    proposals: tuple[Proposal, ...]
    has_lines: bool


def page(reader: Person, *, now: dt.datetime) -> Home:
    """The contents of the page Next, in a constant number of queries."""
    own = list(Line.objects.with_side(reader).open().values_list("pk", flat=True))
    ahead = (
        Meeting.objects.coming()
        .filter(line__in=own, given_up_at__isnull=True)
        .select_related("line__manager", "line__report")
        .order_by("starts_at", "id")
    )
    left = {meeting.pk for meeting in lines.unanswered(own, now=now)}
    each = [_coming(reader, meeting, now=now) for meeting in ahead]
    return Home(
        coming=tuple(_near([coming for coming in each if coming.meeting.pk not in left], now=now)),
        unanswered=tuple(coming for coming in each if coming.meeting.pk in left),
        commitments=commitments.mine(reader, now=now),
        notices=notices.unread(reader, now=now),
        proposals=tuple(
            Proposal.objects.filter(line__in=own, state=Proposal.State.OPEN)
            .filter(~Q(by=reader))
            .select_related("line__manager", "line__report", "by", "meeting")
        ),
        has_lines=bool(own),
    )


def _near(each: list[Coming], *, now: dt.datetime) -> list[Coming]:
    """The meetings of the next weeks; if there are only a few, the first few of all."""
    near = [coming for coming in each if coming.starts_at <= now + AHEAD]
    return near if len(near) >= AT_LEAST else each[:AT_LEAST]


def _coming(reader: Person, meeting: Meeting, *, now: dt.datetime) -> Coming:
    side = meeting.line.side_for(reader)
    return Coming(
        meeting=meeting,
        other=meeting.line.name_on(side.other),
        starts_at=meeting.starts_at,
        ends_at=meeting.starts_at + dt.timedelta(minutes=meeting.minutes),
        phase=_phase(meeting, now=now),
    )


def _phase(meeting: Meeting, *, now: dt.datetime) -> str:
    if meeting.state == Meeting.State.UNDER_WAY:
        return "under way"
    if line_calendar.local_day(meeting.starts_at, meeting.zone) == line_calendar.local_day(now, meeting.zone):
        return "today"
    if meeting.state == Meeting.State.ISSUED:
        return "issued"
    return "collecting" if meeting.invited_at is not None else "ahead"
