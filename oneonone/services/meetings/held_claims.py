"""Whether a meeting was held: it is closed, or a side says afterwards that it was or was not held."""

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
from oneonone.models.locks import lock_line
from oneonone.selectors.dates import line_calendar
from oneonone.services import idempotency
from oneonone.services.agenda import placing
from oneonone.services.commitments import carrying
from oneonone.services.meetings import coming_meetings
from oneonone.services.meetings.transitions import UNSTARTED, touch
from oneonone.services.record import record
from oneonone.services.refusals import NotNow, OutOfRange, PastDate


def hold(
    *, meeting: Meeting, day: dt.date, actor: Person, now: dt.datetime, ended_at: dt.datetime | None
) -> None:
    """A meeting was held on a day: what it left is kept for the next one, and its record by reference."""
    lock_line(meeting.line)
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
    carrying.recount(meeting=meeting, now=now)
    coming_meetings.ensure(line=meeting.line, now=now)
    placing.gather(line=meeting.line, now=now)


def _date_given_back(meeting: Meeting, day: dt.date, now: dt.datetime) -> dict[str, object]:
    """Columns that make an early meeting an extra one, if its regular date is still in the future."""
    left = line_calendar.date_left(meeting, held_on=day)
    if left is None or left <= line_calendar.local_day(now, meeting.zone):
        return {}
    return {
        "is_extra": True,
        "interval": None,
        "nominal_date": None,
        "occurrence_key": f"earlier:{meeting.pk}",
    }


def _record_at(meeting: Meeting, day: dt.date, now: dt.datetime) -> dt.datetime:
    """When the record is due, counted from the day it was held or from the day that was said, if later.

    So a meeting that is entered afterwards leaves the same time to write its record.
    """
    local = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
    counted = max(day, line_calendar.local_day(now, meeting.zone))
    return coming_meetings.instants_from(
        meeting, cadence.start_instant(counted, local.time(), meeting.zone)
    ).record


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

    ``meeting`` is the planned meeting that it was, which is moved to that day; None makes an extra one.
    ``discussed`` are the ids of the placements that were discussed; they may belong to a meeting that was not
    held or to the coming one. All others are kept for next time. Refused: a day in the future, or before the
    line began.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="claims.we_met", model=Meeting)
    if earlier is not None:
        return earlier
    if day > today:
        raise PastDate(field="day", accepted=_("Today or an earlier day."))
    if day < line.starts_on:
        raise OutOfRange(
            field="day",
            accepted=_("%(day)s, when the line began, or a later day.") % {"day": line.starts_on.isoformat()},
        )
    side = line.side_for(actor)
    lock_line(line)
    if meeting is None:
        meeting = coming_meetings.outside_the_interval(line, day=day, time=None, minutes=None, now=now)
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
    idempotency.done(actor=actor, client_key=client_key, act="claims.we_met", subject=meeting.pk, now=now)
    return meeting


@transaction.atomic
def say(
    *, meeting: Meeting, side: Side, held: bool, day: dt.date | None, actor: Person, now: dt.datetime
) -> HeldClaim:
    """Store one side's answer to whether a meeting was held. After one *no* a lead sees it as not held."""
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
    """Give up a meeting of which nobody has said whether it was held.

    A meeting that was never started becomes *not held*; ``we_met`` can still reverse that. A meeting left
    under way keeps its state and releases its undecided topics and open commitments.
    """
    lock_line(meeting.line)
    placing.let_go(meeting=meeting, now=now)
    if meeting.state == Meeting.State.UNDER_WAY:
        touch(meeting, states=(Meeting.State.UNDER_WAY,), given_up_at=now, current=None)
    else:
        touch(meeting, states=UNSTARTED, state=Meeting.State.NOT_HELD, given_up_at=now)
    coming_meetings.ensure(line=meeting.line, now=now)
    placing.gather(line=meeting.line, now=now)
    return meeting


def nearest_for(*, line: Line, day: dt.date) -> tuple[Meeting | None, bool]:
    """The planned meeting nearest to ``day``, and whether it is likely the one that was held.

    It is likely if the two days are less than half an interval apart.
    """
    candidates = line.meetings.filter(state__in=(*UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD))
    planned = {
        line_calendar.local_day(one.starts_at, one.zone): one for one in candidates.order_by("-starts_at")
    }
    interval = line_calendar.in_force(line_calendar.intervals_of(line), day)
    claim = None if interval is None else cadence.claimed(day, list(planned), line_calendar.rule_of(interval))
    return (None, False) if claim is None else (planned[claim.planned], claim.likely)
