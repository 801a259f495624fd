"""The end of a proposal of any kind, and its notices."""

from __future__ import annotations

import datetime as dt

from accounts.models import Person
from oneonone.models import Proposal
from oneonone.models.owed import Notice
from oneonone.services.notices import notices
from oneonone.services.refusals import NotAllowed, NotNow

# Accepting these moves or plans a meeting; the notice about that meeting is the answer.
TOLD_BY_THE_MEETING = (Proposal.Kind.TIME, Proposal.Kind.EXTRA)


def end(
    *,
    proposal: Proposal,
    state: Proposal.State,
    by: Person | None,
    now: dt.datetime,
    answered_otherwise: bool = False,
) -> None:
    """End a proposal, store who ended it, and notify its author of the answer.

    ``answered_otherwise``: no notice, because the author gets another one, such as a counter-proposal.
    Refused: a proposal that is not open, and an answer by anybody but the side that was asked.
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
    """Owe the author a notice of the answer."""
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
    """Withdraw an open proposal. Refused: for anybody but its author."""
    if proposal.by_id != actor.pk:
        raise NotAllowed
    end(proposal=proposal, state=Proposal.State.WITHDRAWN, by=actor, now=now)
