"""How a proposal ends, whatever it is about: once, and its notice with it."""

from __future__ import annotations

import datetime as dt

from accounts.models import Person
from oneonone.models import Proposal
from oneonone.models.owed import Notice

from . import notices
from .refusals import NotAllowed, NotNow


def end(*, proposal: Proposal, state: Proposal.State, by: Person | None, now: dt.datetime) -> None:
    """Keep how it ended, and who said so. Refused: one that has ended already."""
    changed = Proposal.objects.filter(pk=proposal.pk, state=Proposal.State.OPEN).update(
        state=state, answered_by=by, answered_at=now
    )
    if not changed:
        raise NotNow
    notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
    proposal.refresh_from_db(fields=["state", "answered_by", "answered_at"])


def take_back(*, proposal: Proposal, actor: Person, now: dt.datetime) -> None:
    """Whoever proposed it asks no more. Refused: for anybody else."""
    if proposal.by_id != actor.pk:
        raise NotAllowed
    end(proposal=proposal, state=Proposal.State.WITHDRAWN, by=actor, now=now)
