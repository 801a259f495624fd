"""From one state of a meeting to the next: the only way to its row."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import F

from oneonone.models import Meeting

from .refusals import NotNow

UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)


def touch(meeting: Meeting, *, states: Collection[str], **changes: object) -> Meeting:
    """Change a meeting if it is still in one of ``states``; the transition's only way to the row.

    Raises NotNow when somebody else was first. The counter that wakes open pages rises with it.
    """
    changed = Meeting.objects.filter(pk=meeting.pk, state__in=states).update(
        **changes, seq=F("seq") + 1, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    meeting.refresh_from_db()
    return meeting
