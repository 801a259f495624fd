"""Whether a meeting was held: closed, claimed afterwards by a side, denied, or left unanswered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import cadence
from oneonone.models import HeldClaim, Line, Meeting, Move, Side
from oneonone.selectors import calendar
from oneonone.services.agenda import placing

from . import carry, coming, once, record
from .refusals import NotNow, OutOfRange, PastDate
from .transitions import UNSTARTED, touch


def hold(
    *, meeting: Meeting, day: dt.date, actor: Person, now: dt.datetime, ended_at: dt.datetime | None
) -> None:
    """A meeting was held on a day: what it left is kept for the next one, and its record by reference."""
    placing.let_go(meeting=meeting, now=now)
    record_at = _record_at(meeting, day, now)
    touch(
        meeting,
        states=(*UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD),
        state=Meeting.State.CLOSED,
        closed_at=now,
        ended_at=ended_at,
        held_on=day,
        current=None,
        record_at=record_at,
        **_date_given_back(meeting, day, now),
    )
    record.snapshot(meeting=meeting, actor=actor, now=now)
    carry.recount(meeting=meeting, now=now)
    coming.ensure(line=meeting.line, now=now)
    placing.gather(line=meeting.line, now=now)


def _date_given_back(meeting: Meeting, day: dt.date, now: dt.datetime) -> dict[str, object]:
    """Columns that free the date of a meeting held so early that its date still lies ahead and stands."""
    left = calendar.date_left(meeting, held_on=day)
    if left is None or left <= calendar.local_day(now, meeting.zone):
        return {}
    return {
        "is_extra": True,
        "interval": None,
        "nominal_date": None,
        "occurrence_key": f"earlier:{meeting.pk}",
    }


def _record_at(meeting: Meeting, day: dt.date, now: dt.datetime) -> dt.datetime:
    """When the record is due: counted from the day it was really held, or from when that was said.

    A meeting reported afterwards gets the same time for writing the record.
    """
    local = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
    counted = max(day, calendar.local_day(now, meeting.zone))
    return coming.instants_from(meeting, cadence.start_instant(counted, local.time(), meeting.zone)).record


@transaction.atomic
def we_met(
    *,
    line: Line,
    day: dt.date,
    meeting: Meeting | None,
    discussed: Collection[UUID],
    actor: Person,
    now: dt.datetime,
    today: dt.date,
    client_key: UUID | None = None,
) -> Meeting:
    """Say that the two met on ``day`` without the page.

    With a meeting it is that one, moved to that day; without, an extra one. ``discussed`` are the ids of the
    placements that were heard, also those that a meeting not held gave up or the coming one has; the others
    are kept. Refused: a day ahead, or before the line began.
    """
    earlier = once.result(actor=actor, client_key=client_key, act="claims.we_met", model=Meeting)
    if earlier is not None:
        return earlier
    if day > today:
        raise PastDate(field="day", accepted=_("Today or a day that has passed."))
    if day < line.starts_on:
        raise OutOfRange(
            field="day",
            accepted=_("A day since the line began, %(day)s.") % {"day": line.starts_on.isoformat()},
        )
    side = line.side_for(actor)
    if meeting is None:
        meeting = coming.outside_the_interval(line, day=day, time=None, minutes=None, now=now)
        meeting.save(force_insert=True)
    elif meeting.state not in (*UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD):
        raise NotNow
    placing.hear(meeting=meeting, placements=discussed, actor=actor, now=now)
    local = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
    if local.date() != day:
        held = cadence.start_instant(day, local.time(), meeting.zone)
        Move.objects.create(meeting=meeting, from_start=meeting.starts_at, to_start=held, by=actor, at=now)
        Meeting.objects.filter(pk=meeting.pk).update(
            starts_at=held,
            schedule_version=F("schedule_version") + 1,
            calendar_sequence=F("calendar_sequence") + 1,
        )
        meeting.refresh_from_db()
    hold(meeting=meeting, day=day, actor=actor, now=now, ended_at=None)
    say(meeting=meeting, side=side, held=True, day=day, actor=actor, now=now)
    once.done(actor=actor, client_key=client_key, act="claims.we_met", subject=meeting.pk, now=now)
    return meeting


@transaction.atomic
def say(
    *, meeting: Meeting, side: Side, held: bool, day: dt.date | None, actor: Person, now: dt.datetime
) -> HeldClaim:
    """One side's word on whether it was held. A no from the other side makes it not held for a lead."""
    if meeting.state != Meeting.State.CLOSED:
        raise NotNow
    said, _made = HeldClaim.objects.update_or_create(
        meeting=meeting,
        side=side,
        defaults={"held": held, "day": day if held else None, "by": actor, "at": now},
    )
    Meeting.objects.filter(pk=meeting.pk).update(seq=F("seq") + 1)
    return said


@transaction.atomic
def give_up(*, meeting: Meeting, now: dt.datetime) -> Meeting:
    """Nobody answered, and the next invitation falls due.

    A meeting that was never started becomes *not held*, which "we met" can still reverse. One left under
    way stays so, and gives up its undecided topics and open commitments.
    """
    placing.let_go(meeting=meeting, now=now)
    if meeting.state == Meeting.State.UNDER_WAY:
        touch(meeting, states=(Meeting.State.UNDER_WAY,), given_up_at=now, current=None)
    else:
        touch(meeting, states=UNSTARTED, state=Meeting.State.NOT_HELD, given_up_at=now)
    coming.ensure(line=meeting.line, now=now)
    placing.gather(line=meeting.line, now=now)
    return meeting


def nearest_for(*, line: Line, day: dt.date) -> tuple[Meeting | None, bool]:
    """The meeting that "we met on ``day``" most likely was, and whether yes is the likelier answer.

    Yes is offered when the day is nearer to it than half an interval.
    """
    candidates = line.meetings.filter(state__in=(*UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD))
    planned = {calendar.local_day(one.starts_at, one.zone): one for one in candidates.order_by("-starts_at")}
    interval = calendar.in_force(calendar.intervals_of(line), day)
    claim = None if interval is None else cadence.claimed(day, list(planned), calendar.rule_of(interval))
    return (None, False) if claim is None else (planned[claim.planned], claim.likely)
