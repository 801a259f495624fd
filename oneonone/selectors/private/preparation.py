"""What the reader has read of a meeting, for nobody but them."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from accounts.models import Person
from oneonone.models import Meeting, Preparation
from oneonone.sealed import CannotOpen
from oneonone.selectors.private import keys


@dataclass(frozen=True)
class Ticks:
    """What the reader has done for a meeting: the order they read, commitments they spoke of, steps done."""

    order_read: int | None = None
    commitments: frozenset[UUID] = frozenset()
    steps: frozenset[str] = frozenset()


NOTHING = Ticks()


def ticks(reader: Person, meeting: Meeting) -> Ticks:
    """The reader's own ticks; nothing where none are kept or they cannot be opened."""
    row = Preparation.objects.of(reader).filter(meeting=meeting).first()
    if row is None:
        return NOTHING
    try:
        payload = keys.open_for(reader, row)
    except CannotOpen:
        return NOTHING
    number = payload.get("order_read")
    return Ticks(
        order_read=number if isinstance(number, int) else None,
        commitments=frozenset(UUID(one) for one in payload.get("commitments", ())),
        steps=frozenset(payload.get("steps", ())),
    )


def order_read(reader: Person, meeting: Meeting) -> int | None:
    """The number of the order that the reader last marked as read, None when they marked none."""
    return ticks(reader, meeting).order_read
