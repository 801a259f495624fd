"""Proposals of another time or of an extra meeting, which the other side answers.

Either side can also move a meeting directly. A meeting has at most one open proposal of a time, and a line at
most one of an extra meeting. A new proposal by the same side replaces the open one; a proposal by the other
side declines it.
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
from oneonone.selectors.dates import coming_meetings, line_calendar, time_proposals
from oneonone.services import idempotency
from oneonone.services.meetings import meetings
from oneonone.services.notices import notices, proposals
from oneonone.services.notices.job_queue import Job
from oneonone.services.refusals import NotAllowed, NotNow

OPEN, LAPSED = Proposal.State.OPEN, Proposal.State.LAPSED


@transaction.atomic
def propose(*, meeting: Meeting, day: dt.date, time: dt.time, actor: Person, now: dt.datetime) -> Proposal:
    """Ask the other side for another time, in the meeting's zone. The meeting stays until they answer.

    Refused: what ``meetings.move`` refuses, and a line whose other side has not joined.
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
    """Ask the other side for an extra meeting, in the line's zone.

    Refused: a time in the past, fewer than 10 or more than 240 minutes, and a line whose other side has not
    joined.
    """
    act = "timeproposals.extra"
    before = idempotency.result(actor=actor, client_key=client_key, act=act, model=Proposal)
    if before is not None:
        return before
    interval = line_calendar.in_force(line_calendar.intervals_of(line), day)
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
    idempotency.done(actor=actor, client_key=client_key, act=act, subject=proposal.pk, now=now)
    return proposal


def _payload(day: dt.date, time: dt.time, zone: str, minutes: int) -> dict[str, str | int]:
    """The proposed local time. It stays the same if the rules of the time zone change."""
    return {"day": day.isoformat(), "time": time.isoformat(), "zone": zone, "minutes": minutes}


def _ask(proposal: Proposal, *, earlier: Q, actor: Person, now: dt.datetime) -> Proposal:
    line = proposal.line
    side = line.side_for(actor)
    other = line.person_on(side.other)
    if not line.is_open:
        raise NotNow
    if other is None:
        raise NotNow(
            field="day", accepted=_("The other side has not joined yet, so you can decide it yourself.")
        )
    for waiting in line.proposals.filter(earlier, kind=proposal.kind, state=OPEN):
        mine = waiting.by_id == actor.pk
        state = Proposal.State.WITHDRAWN if mine else Proposal.State.DECLINED
        proposals.end(proposal=waiting, state=state, by=actor, now=now, answered_otherwise=True)
    proposal.by, proposal.side, proposal.at = actor, side, now
    try:
        with transaction.atomic():
            proposal.save(force_insert=True)
    except IntegrityError:
        # The other side proposed first; the page shows that proposal now.
        raise NotNow from None
    about = proposal.meeting or coming_meetings.earliest(line)
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
    """Accept or decline a proposed time. Accepting moves the meeting or plans the extra one, and returns it.

    Refused: the actor's own proposal, one that is not open, and one that is outdated: the meeting has moved,
    begun or been called off since, or the time has passed.
    """
    line = proposal.line
    if proposal.kind not in time_proposals.KINDS or not line.is_open:
        raise NotNow
    if proposal.by_id == actor.pk or line.side_of(actor) is None:
        raise NotAllowed
    if not accept:
        proposals.end(proposal=proposal, state=Proposal.State.DECLINED, by=actor, now=now)
        return None
    if to_lapse(now).filter(pk=proposal.pk).exists():
        raise NotNow(accepted=_("The time that was proposed is no longer possible."))
    proposals.end(proposal=proposal, state=Proposal.State.ACCEPTED, by=actor, now=now)
    starts_at = time_proposals.start_of(proposal)
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
    """Take a proposal back. Refused: for anybody but its author."""
    if proposal.kind not in time_proposals.KINDS:
        raise NotNow
    proposals.take_back(proposal=proposal, actor=actor, now=now)
    return proposal


def to_lapse(now: dt.datetime) -> QuerySet[Proposal]:
    """Open proposals of times that have passed, or of meetings that have moved or begun since."""
    overtaken = Q(lapses_at__lte=now) | time_proposals.MOVED_ON
    return time_proposals.open_ones().filter(overtaken).order_by("at", "id")


def lapse(proposal: Proposal, now: dt.datetime) -> None:
    """End a proposal that was not answered in time."""
    proposals.end(proposal=proposal, state=LAPSED, by=None, now=now)


LAPSE = Job("lapse", to_lapse, lapse)
