"""State transitions of a meeting. All of them go through ``touch``."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import F

from oneonone.models import Meeting
from oneonone.services.refusals import NotNow

UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)


def touch(meeting: Meeting, *, states: Collection[str], **changes: object) -> Meeting:
    """Change a meeting by a conditional update, if it is still in one of ``states``.

    Raises NotNow otherwise. Also raises ``seq``, by which open pages notice a change.
    """
    changed = Meeting.objects.filter(pk=meeting.pk, state__in=states).update(
        **changes, seq=F("seq") + 1, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    meeting.refresh_from_db()
    return meeting
