"""What the reader has read of a meeting, for nobody but them."""

from __future__ import annotations

from accounts.models import Person
from oneonone.models import Meeting, Preparation
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys


def order_read(reader: Person, meeting: Meeting) -> int | None:
    """The number of the order that the reader last marked as read, None when they marked none."""
    row = Preparation.objects.of(reader).filter(meeting=meeting).first()
    if row is None:
        return None
    try:
        number = keys.open_for(reader, row).get("order_read")
    except CannotOpen:
        return None
    return number if isinstance(number, int) else None
