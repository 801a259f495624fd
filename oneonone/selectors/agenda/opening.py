"""What the opening of a meeting goes through: commitments that are due, settled, or have another date."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from accounts.models import Person
from oneonone.models import Commitment, Meeting, Revision
from oneonone.selectors.commitments import commitments
from oneonone.selectors.commitments.commitments import CommitmentView

from . import frame


@dataclass(frozen=True)
class Told:
    """One commitment at the opening, with what its owner shared about its last change of date."""

    one: CommitmentView
    reason: str
    basis: str


def of(reader: Person, meeting: Meeting, *, now: dt.datetime, private: bool = True) -> tuple[Told, ...]:
    """The open ones by date, then those that were settled since the last meeting."""
    wanted = frame.due_or_changed(meeting)
    if not wanted:
        return ()
    reasons = {
        row.commitment_id: row for row in Revision.objects.filter(commitment__in=wanted).order_by("at", "id")
    }
    return tuple(
        Told(
            one=one,
            reason=reasons[one.id].reason if one.id in reasons else "",
            basis=reasons[one.id].basis if one.id in reasons else "",
        )
        for one in sorted(
            commitments.of_line(reader, meeting.line, wanted, now=now, private=private), key=_settled
        )
    )


def _settled(one: CommitmentView) -> bool:
    return one.state != Commitment.State.OPEN
