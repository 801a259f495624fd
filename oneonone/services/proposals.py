"""How a proposal is asked and ends, whatever it is about: once, and its notices with it."""

from __future__ import annotations

import datetime as dt

from accounts.models import Person
from oneonone.models import Proposal
from oneonone.models.owed import Notice

from . import notices
from .refusals import NotAllowed, NotNow

# A yes to these moves or plans a meeting, and is told with its new time.
TOLD_BY_THE_MEETING = (Proposal.Kind.TIME, Proposal.Kind.EXTRA)


def end(
    *,
    proposal: Proposal,
    state: Proposal.State,
    by: Person | None,
    now: dt.datetime,
    answered_otherwise: bool = False,
) -> None:
    """Keep how it ended, and who said so; whoever proposed it is told of a yes or no.

    With ``answered_otherwise`` they hear of it by something else, such as a proposal in return. Refused: one
    that has ended already, and a yes or no of anybody but the side that was asked.
    """
    answers = state in (Proposal.State.ACCEPTED, Proposal.State.DECLINED)
    if answers and (by is None or by.pk == proposal.by_id or proposal.line.side_of(by) is None):
        raise NotAllowed
    changed = Proposal.objects.filter(pk=proposal.pk, state=Proposal.State.OPEN).update(
        state=state, answered_by=by, answered_at=now
    )
    if not changed:
        raise NotNow
    notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    proposal.refresh_from_db(fields=["state", "answered_by", "answered_at"])
    if by is not None and by.pk != proposal.by_id and not answered_otherwise:
        _tell(proposal, now)


def _tell(proposal: Proposal, now: dt.datetime) -> None:
    """Owe the answer to whoever proposed it."""
    kind = None
    if proposal.state == Proposal.State.DECLINED:
        kind = Notice.Kind.DECLINED
    elif proposal.state == Proposal.State.ACCEPTED and proposal.kind not in TOLD_BY_THE_MEETING:
        kind = Notice.Kind.AGREED
    if kind is not None:
        notices.owe(
            kind=kind,
            person=proposal.by,
            subject=proposal.pk,
            occurrence=proposal.kind,
            line=proposal.line,
            meeting=proposal.meeting,
            commitment=proposal.commitment,
            now=now,
            at_once=notices.is_soon(meeting=proposal.meeting, now=now),
        )


def take_back(*, proposal: Proposal, actor: Person, now: dt.datetime) -> None:
    """Whoever proposed it asks no more. Refused: for anybody else."""
    if proposal.by_id != actor.pk:
        raise NotAllowed
    end(proposal=proposal, state=Proposal.State.WITHDRAWN, by=actor, now=now)
