"""The minutes around the topics of a meeting: the opening, the closing, and what is left between them."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Q

from oneonone.models import Commitment, Meeting
from oneonone.selectors import calendar, coming

ARRIVE_MINUTES = 4
MINUTES_A_COMMITMENT = 2
LEAST_CLOSING = 3


def opening_minutes(meeting: Meeting) -> int:
    """Minutes to arrive and say how commitments went: 4, and 2 for each due or changed, a quarter at most."""
    return min(ARRIVE_MINUTES + MINUTES_A_COMMITMENT * len(due_or_changed(meeting)), meeting.minutes // 4)


def closing_minutes(minutes: int) -> int:
    """Minutes to read back what is taken on: a tenth of the meeting, rounded up, at least 3."""
    return max(LEAST_CLOSING, -(-minutes // 10))


def due_or_changed(meeting: Meeting) -> list[UUID]:
    """Commitments due by the meeting, or settled or given another date since the last one."""
    day = calendar.local_day(meeting.starts_at, meeting.zone)
    last = coming.last_held(meeting.line, before=meeting)
    told = Q(state=Commitment.State.OPEN, current_date__lte=day)
    if last is not None and last.closed_at is not None:
        told |= Q(settled_at__gt=last.closed_at) | Q(revisions__at__gt=last.closed_at)
    rows = Commitment.objects.filter(line=meeting.line_id, confirmed_at__isnull=False).filter(told)
    return list(rows.distinct().values_list("pk", flat=True))


def longest_topic(meeting: Meeting) -> int:
    """The most minutes a topic can have: the meeting less its shortest opening and its closing."""
    opening = min(ARRIVE_MINUTES, meeting.minutes // 4)
    return meeting.minutes - opening - closing_minutes(meeting.minutes)
