"""Hand a commitment over: the owner offers it, and the other side accepts or declines."""

from __future__ import annotations

import datetime as dt

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Commitment, Meeting, Proposal, Side
from oneonone.models.owed import Notice
from oneonone.selectors.dates import coming_meetings
from oneonone.services.commitments import commitments, reminder_times
from oneonone.services.notices import notices, proposals
from oneonone.services.record import record
from oneonone.services.refusals import NotAllowed, NotNow


@transaction.atomic
def offer(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Proposal:
    """Ask the other side to take a commitment over. It stays with its owner until they accept.

    Refused: somebody else's commitment, one that is not open or not confirmed, a line that has ended, and a
    second offer while one is open.
    """
    if commitment.owner_id != actor.pk:
        raise NotAllowed
    line = commitment.line
    if commitment.state != Commitment.State.OPEN or commitment.is_offered or not line.is_open:
        raise NotNow
    side = Side(commitment.owner_side)
    proposal = Proposal(
        line=line,
        kind=Proposal.Kind.HAND_OVER,
        by=actor,
        side=side,
        commitment=commitment,
        base_version=commitment.version,
        at=now,
    )
    try:
        with transaction.atomic():
            proposal.save(force_insert=True)
    except IntegrityError:
        raise NotNow(accepted=_("The other side has not answered the first offer yet.")) from None
    other = line.person_on(side.other)
    if other is not None:
        notices.owe(
            kind=Notice.Kind.PROPOSAL,
            person=other,
            subject=proposal.pk,
            occurrence=proposal.kind,
            line=line,
            commitment=commitment,
            now=now,
            at_once=notices.is_soon(meeting=coming_meetings.earliest(line), now=now),
        )
    return proposal


@transaction.atomic
def accept(*, proposal: Proposal, actor: Person, now: dt.datetime) -> Commitment:
    """Take a commitment over: the old row ends as *handed over*, and a new row continues with both dates.

    Returns the new commitment. Refused: an offer or a commitment that is not open.
    """
    old = proposal.commitment
    if old is None:
        raise NotNow
    _answer(proposal, Proposal.State.ACCEPTED, actor, now)
    changed = Commitment.objects.filter(pk=old.pk, state=Commitment.State.OPEN).update(
        state=Commitment.State.HANDED_OVER,
        settled_at=now,
        settled_by=actor,
        remind_at=None,
        version=F("version") + 1,
    )
    if not changed:
        raise NotNow
    old.refresh_from_db(fields=["current_date", "action", "how_known"])
    taken = Commitment(
        line=old.line,
        author=old.author,
        owner=actor,
        owner_side=Side(old.owner_side).other,
        action=old.action,
        how_known=old.how_known,
        original_date=old.original_date,
        current_date=old.current_date,
        confirmed_at=now,
        made_in=old.made_in,
        continues=old,
        created_at=now,
        remind_at=reminder_times.before_date(actor, old.current_date, now=now),
    )
    taken.save(force_insert=True)
    commitments.close_questions(commitment=old, now=now)
    _wake(proposal)
    return taken


@transaction.atomic
def decline(*, proposal: Proposal, actor: Person, now: dt.datetime) -> Proposal:
    """Decline to take a commitment over."""
    _answer(proposal, Proposal.State.DECLINED, actor, now)
    _wake(proposal)
    return proposal


@transaction.atomic
def withdraw(*, proposal: Proposal, actor: Person, now: dt.datetime) -> Proposal:
    """Take the offer back. Refused: for anybody but its author."""
    proposals.take_back(proposal=proposal, actor=actor, now=now)
    _wake(proposal)
    return proposal


def _answer(proposal: Proposal, state: Proposal.State, actor: Person, now: dt.datetime) -> None:
    line = proposal.line
    if proposal.kind != Proposal.Kind.HAND_OVER or not line.is_open:
        raise NotNow
    other = line.person_on(Side(proposal.side).other)
    if other is None or other.pk != actor.pk:
        raise NotAllowed
    proposals.end(proposal=proposal, state=state, by=actor, now=now)


def _wake(proposal: Proposal) -> None:
    for meeting in proposal.line.meetings.filter(state=Meeting.State.UNDER_WAY):
        record.touch(meeting)
