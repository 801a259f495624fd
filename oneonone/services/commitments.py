"""Commitments: taken on, confirmed, kept or not, moved to another date, handed to the other side."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Placement, Proposal, Revision, Side
from oneonone.models.followthrough import ACTION, HOW_KNOWN, CommitmentCue
from oneonone.models.owed import Notice
from oneonone.selectors import calendar
from oneonone.services import notices, once, record, reminders
from oneonone.services.limits import one_line
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange, PastDate, Stale

FURTHEST_YEARS = 5


@transaction.atomic
def take_on(
    *,
    line: Line,
    owner_side: Side | str,
    action: str,
    how_known: str,
    date: dt.date,
    actor: Person,
    now: dt.datetime,
    meeting: Meeting | None = None,
    placement: Placement | None = None,
    cue_on: dt.date | None = None,
    client_key: UUID | None = None,
) -> Commitment:
    """Write down who does what by when, and how both will know.

    Typed for oneself it counts at once; typed for the other side it is *offered* until they confirm it.
    ``cue_on`` is one's own day to begin, as ``set_cue`` takes it.
    Made in a meeting it also becomes a line of that record. Refused: no action, a date in the past or more
    than five years ahead, a line that has ended, a meeting whose record can no longer be written.
    """
    earlier = once.result(actor=actor, client_key=client_key, act="commitments.take_on", model=Commitment)
    if earlier is not None:
        return earlier
    side = line.side_of(actor)
    if side is None or not line.is_open or line.start == Line.Start.ALONE:
        raise NotNow
    if owner_side not in Side.values:
        raise OutOfRange(field="owner_side", accepted=_("One of the two of you."))
    owner_side = Side(owner_side)
    if meeting is not None and meeting.line_id != line.pk:
        raise OutOfRange(field="meeting", accepted=_("A one-on-one of this line."))
    check_date(date, actor=actor, now=now)
    owner = line.person_on(owner_side)
    commitment = Commitment(
        line=line,
        author=actor,
        owner=owner,
        owner_side=owner_side,
        action=one_line(action, field="action", most=ACTION),
        how_known=one_line(how_known, field="how_known", most=HOW_KNOWN, required=False),
        original_date=date,
        current_date=date,
        confirmed_at=now if owner_side == side else None,
        made_in=meeting,
        created_at=now,
        # An offered one is not reminded of before its owner has confirmed it.
        remind_at=reminders.before_date(owner, date, now=now) if owner_side == side else None,
    )
    commitment.save(force_insert=True)
    if meeting is not None:
        record.take_down(meeting=meeting, commitment=commitment, placement=placement, actor=actor, now=now)
    if commitment.is_offered and owner is not None:
        _offer(commitment, owner, now)
    if cue_on is not None:
        set_cue(commitment=commitment, on=cue_on, actor=actor, now=now)
    once.done(actor=actor, client_key=client_key, act="commitments.take_on", subject=commitment.pk, now=now)
    return commitment


def check_date(date: dt.date, *, actor: Person, now: dt.datetime) -> None:
    """Refuse a date before today, on the calendar of whoever types it, and one that can only be a slip."""
    today = calendar.local_day(now, actor.zone)
    if date < today:
        raise PastDate(field="date", accepted=_("Today, %(day)s, or later.") % {"day": today.isoformat()})
    if date > today + dt.timedelta(days=FURTHEST_YEARS * 366):
        raise OutOfRange(
            field="date", accepted=_("A date within the next %(years)d years.") % {"years": FURTHEST_YEARS}
        )


def _offer(commitment: Commitment, owner: Person, now: dt.datetime) -> None:
    notices.owe(
        kind=Notice.Kind.OFFERED,
        person=owner,
        subject=commitment.pk,
        line=commitment.line,
        commitment=commitment,
        now=now,
    )


@transaction.atomic
def confirm(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """The owner takes on what the other side typed for them. Confirmed twice, the first time stays."""
    _own(commitment, actor)
    changed = Commitment.objects.filter(
        pk=commitment.pk, state=Commitment.State.OPEN, confirmed_at__isnull=True
    ).update(
        confirmed_at=now,
        remind_at=reminders.before_date(actor, commitment.current_date, now=now),
        version=F("version") + 1,
    )
    commitment.refresh_from_db()
    if not changed and commitment.state != Commitment.State.OPEN:
        raise NotNow
    notices.cancel(kind=Notice.Kind.OFFERED, subject=commitment.pk, now=now)
    _touch(commitment)
    return commitment


@transaction.atomic
def decline(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """The owner does not take on what was typed for them. Refused once it is confirmed."""
    _own(commitment, actor)
    return _settle(commitment, Commitment.State.DROPPED, actor, now, cause="declined", offered=True)


@transaction.atomic
def withdraw(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Whoever typed it for the other side takes the offer back. Refused once it is confirmed."""
    if commitment.author_id != actor.pk:
        raise NotAllowed
    return _settle(commitment, Commitment.State.DROPPED, actor, now, cause="withdrawn", offered=True)


@transaction.atomic
def done(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """The owner says it is done; saying so of an offered one confirms it as well."""
    _own(commitment, actor)
    return _settle(commitment, Commitment.State.DONE, actor, now, cause="")


@transaction.atomic
def drop(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """The owner will not do it. No reason is asked for here: reasons are the owner's own, in their plan."""
    _own(commitment, actor)
    return _settle(commitment, Commitment.State.DROPPED, actor, now, cause="dropped")


@transaction.atomic
def reopen(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Undo *done* or *dropped*, for a slip of the hand.

    Refused when it ended another way or by somebody else, and when the line has ended.
    """
    _own(commitment, actor)
    if not commitment.line.is_open or commitment.settled_cause in ("declined", "withdrawn"):
        raise NotNow
    changed = Commitment.objects.filter(
        pk=commitment.pk, state__in=(Commitment.State.DONE, Commitment.State.DROPPED), settled_by=actor
    ).update(
        state=Commitment.State.OPEN,
        settled_at=None,
        settled_by=None,
        settled_cause="",
        remind_at=reminders.before_date(actor, commitment.current_date, now=now),
        version=F("version") + 1,
    )
    if not changed:
        raise NotNow
    commitment.refresh_from_db()
    _touch(commitment)
    return commitment


@transaction.atomic
def forecast(*, commitment: Commitment, value: str, actor: Person, now: dt.datetime) -> Commitment:
    """The owner says whether the date will be made or may slip."""
    _own(commitment, actor)
    if value not in Commitment.Forecast.values:
        raise OutOfRange(field="forecast", accepted=_("Will make the date, or may slip."))
    changed = Commitment.objects.filter(pk=commitment.pk, state=Commitment.State.OPEN).update(
        forecast=value, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    commitment.refresh_from_db()
    _touch(commitment)
    return commitment


@transaction.atomic
def change_date(
    *,
    commitment: Commitment,
    date: dt.date,
    version: int,
    actor: Person,
    now: dt.datetime,
    reason: str = "",
    basis: str = "",
) -> Commitment:
    """Move the date the owner works towards; the original one stays, and each change is kept.

    ``reason`` and ``basis`` (what makes the new date likely) are shared with the other side. Refused: a date
    in the past or the present one, and a commitment that has changed since ``version`` was read.
    """
    _own(commitment, actor)
    if commitment.state != Commitment.State.OPEN:
        raise NotNow
    check_date(date, actor=actor, now=now)
    before = commitment.current_date
    if date == before:
        raise OutOfRange(field="date", accepted=_("A date other than the present one."))
    shared = {
        "reason": one_line(reason, field="reason", most=200, required=False),
        "basis": one_line(basis, field="basis", most=200, required=False),
    }
    changed = Commitment.objects.filter(
        pk=commitment.pk, version=version, state=Commitment.State.OPEN
    ).update(
        current_date=date,
        forecast=Commitment.Forecast.WILL_MAKE,
        remind_at=reminders.before_date(actor, date, now=now),
        # A date of one's own choosing is a yes to what was offered.
        confirmed_at=commitment.confirmed_at or now,
        version=F("version") + 1,
    )
    commitment.refresh_from_db()
    if not changed:
        raise Stale(theirs={"date": commitment.current_date.isoformat()}, version=commitment.version)
    Revision.objects.create(commitment=commitment, from_date=before, to_date=date, by=actor, at=now, **shared)
    _touch(commitment)
    return commitment


@transaction.atomic
def set_cue(*, commitment: Commitment, on: dt.date | None, actor: Person, now: dt.datetime) -> None:
    """The owner's own day on which they mean to begin, or none.

    Nobody else sees it; a reminder comes that day. Refused: a day in the past.
    """
    _own(commitment, actor)
    if on is None:
        CommitmentCue.objects.filter(commitment=commitment).delete()
        return
    if commitment.state != Commitment.State.OPEN:
        raise NotNow
    if on < calendar.local_day(now, actor.zone):
        raise PastDate(field="cue_on", accepted=_("Today or later."))
    CommitmentCue.objects.update_or_create(
        commitment=commitment,
        defaults={"owner": actor, "on": on, "remind_at": reminders.on_day(actor, on)},
    )


@transaction.atomic
def adopt(*, line: Line, side: Side, person: Person, now: dt.datetime) -> int:
    """Somebody invited has joined: what was typed for their side is now offered to them.

    Returns how many commitments that are.
    """
    waiting = Commitment.objects.filter(line=line, owner_side=side, owner__isnull=True)
    offered = list(waiting.filter(state=Commitment.State.OPEN).select_related("line"))
    waiting.update(owner=person)
    for commitment in offered:
        _offer(commitment, person, now)
    return len(offered)


def _own(commitment: Commitment, actor: Person) -> None:
    """Only the owner answers for a commitment, in its line or after it has ended."""
    if commitment.owner_id != actor.pk:
        raise NotAllowed


def _settle(
    commitment: Commitment,
    state: Commitment.State,
    actor: Person,
    now: dt.datetime,
    *,
    cause: str,
    offered: bool = False,
) -> Commitment:
    """End an open commitment; the same end said twice changes nothing the second time."""
    rows = Commitment.objects.filter(pk=commitment.pk, state=Commitment.State.OPEN)
    changes: dict[str, object] = {}
    if offered:
        rows = rows.filter(confirmed_at__isnull=True)
    elif commitment.confirmed_at is None:
        changes["confirmed_at"] = now
    changed = rows.update(
        state=state,
        settled_at=now,
        settled_by=actor,
        settled_cause=cause,
        remind_at=None,
        version=F("version") + 1,
        **changes,
    )
    commitment.refresh_from_db()
    if not changed:
        if commitment.state == state and commitment.settled_cause == cause:
            return commitment
        raise NotNow
    close_questions(commitment=commitment, now=now)
    _touch(commitment)
    return commitment


def close_questions(*, commitment: Commitment, now: dt.datetime) -> None:
    """What is settled is neither asked about nor reminded of: its notices and open proposals end."""
    notices.cancel(kind=Notice.Kind.OFFERED, subject=commitment.pk, now=now)
    notices.cancel(kind=Notice.Kind.COMMITMENT, subject=commitment.pk, now=now)
    CommitmentCue.objects.filter(commitment=commitment).update(remind_at=None)
    for proposal in Proposal.objects.filter(commitment=commitment, state=Proposal.State.OPEN):
        notices.cancel(kind=Notice.Kind.PROPOSAL, subject=proposal.pk, now=now)
        Proposal.objects.filter(pk=proposal.pk, state=Proposal.State.OPEN).update(
            state=Proposal.State.LAPSED, answered_at=now
        )


def _touch(commitment: Commitment) -> None:
    for meeting in commitment.line.meetings.filter(state=Meeting.State.UNDER_WAY):
        record.touch(meeting)
