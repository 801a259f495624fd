"""The coming meeting of a line, and the last one held."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Exists, OuterRef

from oneonone.models import HeldClaim, Line, Meeting
from oneonone.models.people import with_people

UNDENIED = ~Exists(HeldClaim.objects.filter(meeting=OuterRef("pk"), held=False))
"""Filter: meetings that neither side has said were not held."""


def earliest(line: Line) -> Meeting | None:
    """The earliest meeting that is coming and not given up. Undecided topics belong to it."""
    ahead = Meeting.objects.coming().filter(line=line, given_up_at__isnull=True).select_related("interval")
    return with_people(ahead, "line__manager", "line__report").order_by("starts_at", "id").first()


def earliest_of(line_ids: list[UUID]) -> dict[UUID, Meeting]:
    """``earliest`` for several lines, in one query."""
    meetings = (
        Meeting.objects.coming()
        .filter(line__in=line_ids, given_up_at__isnull=True)
        .select_related("line__manager", "line__report", "interval")
        .order_by("-starts_at", "-id")
    )
    return {meeting.line_id: meeting for meeting in meetings}


def last_held(line: Line, *, before: Meeting | None = None) -> Meeting | None:
    """The line's last held meeting, without those that a side says were not held."""
    held = Meeting.objects.filter(line=line, state=Meeting.State.CLOSED).filter(UNDENIED)
    if before is not None:
        held = held.exclude(pk=before.pk)
    return held.order_by("-held_on", "-closed_at").first()
