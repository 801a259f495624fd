"""The topic of a meeting that a form names beside the words it sends."""

from __future__ import annotations

from uuid import UUID

from django.utils.translation import gettext as _

from oneonone.models import Meeting, Placement
from oneonone.services.refusals import OutOfRange


def named(meeting: Meeting | None, placement_id: UUID | None) -> Placement | None:
    """Where on this meeting the words belong; None when the form names no topic.

    Refused alike: a topic that is not there and one of another meeting, whoever's it is.
    """
    if placement_id is None:
        return None
    found = meeting.placements.filter(pk=placement_id).first() if meeting else None
    if found is None:
        raise OutOfRange(field="placement", accepted=_("A topic of this one-on-one."))
    return found
