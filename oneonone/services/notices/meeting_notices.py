"""Notices about a meeting, owed to the sides of its line."""

from __future__ import annotations

import datetime as dt

from accounts.models import Person
from oneonone.models import Meeting
from oneonone.models.owed import Notice
from oneonone.models.people import by_id
from oneonone.services.notices import notices


def both(
    *,
    meeting: Meeting,
    kind: Notice.Kind,
    now: dt.datetime,
    but: Person | None = None,
    at_once: bool = False,
    was: dt.datetime | None = None,
) -> None:
    """Owe a notice about a meeting to each side that has joined, except to ``but``, who did the act.

    ``at_once`` asks for a mail outside the day's digest. That is done only if the meeting is near, or was
    near before it moved from ``was``.
    """
    near = min(meeting.starts_at, was or meeting.starts_at) - now <= notices.AT_ONCE_WITHIN
    sides = (meeting.line.manager_id, meeting.line.report_id)
    people = by_id(sides)
    for person in (people.get(side) for side in sides if side is not None):
        if person is not None and (but is None or person.pk != but.pk):
            notices.owe(
                kind=kind,
                person=person,
                subject=meeting.pk,
                schedule_version=meeting.schedule_version,
                line=meeting.line,
                meeting=meeting,
                now=now,
                at_once=at_once and near,
            )
