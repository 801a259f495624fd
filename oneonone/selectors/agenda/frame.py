"""The minutes around the topics of a meeting: the opening, the closing, and what is left between them."""

from __future__ import annotations

from uuid import UUID

from oneonone.models import Commitment, Meeting, Revision
from oneonone.selectors.dates import coming_meetings, line_calendar

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
    rows = Commitment.objects.filter(line=meeting.line_id, confirmed_at__isnull=False)
    found = list(rows.values_list("pk", "state", "current_date", "settled_at"))
    if not found:
        return []
    day = line_calendar.local_day(meeting.starts_at, meeting.zone)
    last = coming_meetings.last_held(meeting.line, before=meeting)
    told = {pk for pk, state, date, _at in found if state == Commitment.State.OPEN and date <= day}
    if last is not None and last.closed_at is not None:
        told |= {pk for pk, _state, _date, at in found if at is not None and at > last.closed_at}
        changed = Revision.objects.filter(commitment__line=meeting.line_id, at__gt=last.closed_at)
        told |= {pk for pk, *_rest in found} & set(changed.values_list("commitment", flat=True))
    return list(told)


def longest_topic(meeting: Meeting) -> int:
    """The most minutes a topic can have: the meeting less its shortest opening and its closing."""
    opening = min(ARRIVE_MINUTES, meeting.minutes // 4)
    return meeting.minutes - opening - closing_minutes(meeting.minutes)
