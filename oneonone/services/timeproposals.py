"""A time that one side proposes and the other answers: another or an earlier one, or an extra meeting.

Either side can move a meeting in one step; whoever would rather be answered first proposes. One proposal of
a time waits at a meeting, and one of an extra meeting on a line: a new one of the same side takes the place
of the old, and one of the other side is an answer to it.
"""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import cadence
from oneonone.models import Line, Meeting, Proposal
from oneonone.models.owed import Notice
from oneonone.selectors import calendar, coming, timeproposals
from oneonone.services import meetings, notices, once, proposals
from oneonone.services.jobs_queue import Job
from oneonone.services.refusals import NotAllowed, NotNow

OPEN, LAPSED = Proposal.State.OPEN, Proposal.State.LAPSED


@transaction.atomic
def propose(*, meeting: Meeting, day: dt.date, time: dt.time, actor: Person, now: dt.datetime) -> Proposal:
    """Ask the other side for another time, on the meeting's clocks. Until they answer it stays where it is.

    Refused is what moving it there would be, and asking somebody who has not joined.
    """
    starts_at = cadence.start_instant(day, time, meeting.zone)
    meetings.check_move(meeting=meeting, starts_at=starts_at, now=now)
    return _ask(
        Proposal(
            line=meeting.line,
            kind=Proposal.Kind.TIME,
            meeting=meeting,
            payload=_payload(day, time, meeting.zone, meeting.minutes),
            base_version=meeting.schedule_version,
            lapses_at=min(starts_at, meeting.starts_at),
        ),
        earlier=Q(meeting=meeting),
        actor=actor,
        now=now,
    )


@transaction.atomic
def propose_extra(
    *,
    line: Line,
    day: dt.date,
    time: dt.time,
    minutes: int,
    actor: Person,
    now: dt.datetime,
    client_key: UUID | None = None,
) -> Proposal:
    """Ask the other side for a meeting outside the interval, in the line's zone.

    Refused: a time that has passed, fewer than 10 or more than 240 minutes, and asking somebody who has not
    joined.
    """
    act = "timeproposals.extra"
    before = once.result(actor=actor, client_key=client_key, act=act, model=Proposal)
    if before is not None:
        return before
    interval = calendar.in_force(calendar.intervals_of(line), day)
    if interval is None:
        raise NotNow
    starts_at = cadence.start_instant(day, time, interval.zone)
    meetings.check_extra(starts_at=starts_at, minutes=minutes, now=now)
    proposal = Proposal(
        line=line,
        kind=Proposal.Kind.EXTRA,
        payload=_payload(day, time, interval.zone, minutes),
        base_version=line.version,
        lapses_at=starts_at,
    )
    _ask(proposal, earlier=Q(), actor=actor, now=now)
    once.done(actor=actor, client_key=client_key, act=act, subject=proposal.pk, now=now)
    return proposal


def _payload(day: dt.date, time: dt.time, zone: str, minutes: int) -> dict[str, str | int]:
    """The local time, which stays when the rules of the clocks change."""
    return {"day": day.isoformat(), "time": time.isoformat(), "zone": zone, "minutes": minutes}


def _ask(proposal: Proposal, *, earlier: Q, actor: Person, now: dt.datetime) -> Proposal:
    line = proposal.line
    side = line.side_for(actor)
    other = line.person_on(side.other)
    if not line.is_open:
        raise NotNow
    if other is None:
        raise NotNow(field="day", accepted=_("The other side has not joined yet: decide it yourself."))
    for waiting in line.proposals.filter(earlier, kind=proposal.kind, state=OPEN):
        mine = waiting.by_id == actor.pk
        state = Proposal.State.WITHDRAWN if mine else Proposal.State.DECLINED
        proposals.end(proposal=waiting, state=state, by=actor, now=now, answered_otherwise=True)
    proposal.by, proposal.side, proposal.at = actor, side, now
    try:
        with transaction.atomic():
            proposal.save(force_insert=True)
    except IntegrityError:
        # The other side's was there first; the page shows it now.
        raise NotNow from None
    about = proposal.meeting or coming.earliest(line)
    notices.owe(
        kind=Notice.Kind.PROPOSAL,
        person=other,
        subject=proposal.pk,
        occurrence=proposal.kind,
        line=line,
        meeting=proposal.meeting,
        now=now,
        at_once=notices.is_soon(meeting=about, now=now),
    )
    return proposal


@transaction.atomic
def answer(*, proposal: Proposal, accept: bool, actor: Person, now: dt.datetime) -> Meeting | None:
    """The other side's yes or no. A yes moves the meeting, or plans the extra one, which is returned.

    Refused: an own proposal, one that no longer waits, and one that has been overtaken: the meeting has
    moved since, has begun or was called off, or the time has passed.
    """
    line = proposal.line
    if proposal.kind not in timeproposals.KINDS or not line.is_open:
        raise NotNow
    if proposal.by_id == actor.pk or line.side_of(actor) is None:
        raise NotAllowed
    if not accept:
        proposals.end(proposal=proposal, state=Proposal.State.DECLINED, by=actor, now=now)
        return None
    if to_lapse(now).filter(pk=proposal.pk).exists():
        raise NotNow(accepted=_("The time that was proposed is no longer possible."))
    proposals.end(proposal=proposal, state=Proposal.State.ACCEPTED, by=actor, now=now)
    starts_at = timeproposals.start_of(proposal)
    if proposal.meeting is not None:
        return meetings.move(meeting=proposal.meeting, starts_at=starts_at, actor=actor, now=now)
    said = proposal.payload
    return meetings.extra(
        line=line,
        day=dt.date.fromisoformat(said["day"]),
        time=dt.time.fromisoformat(said["time"]),
        minutes=said["minutes"],
        actor=actor,
        now=now,
    )


@transaction.atomic
def withdraw(*, proposal: Proposal, actor: Person, now: dt.datetime) -> Proposal:
    """Whoever proposed it asks no more."""
    if proposal.kind not in timeproposals.KINDS:
        raise NotNow
    proposals.take_back(proposal=proposal, actor=actor, now=now)
    return proposal


def to_lapse(now: dt.datetime) -> QuerySet[Proposal]:
    """Proposed times that can no longer be: passed, or of a meeting that has moved or begun since."""
    overtaken = Q(lapses_at__lte=now) | timeproposals.MOVED_ON
    return timeproposals.open_ones().filter(overtaken).order_by("at", "id")


def lapse(proposal: Proposal, now: dt.datetime) -> None:
    """Nobody has answered in time."""
    proposals.end(proposal=proposal, state=LAPSED, by=None, now=now)


LAPSE = Job("lapse", to_lapse, lapse)
