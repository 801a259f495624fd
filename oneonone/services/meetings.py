"""One meeting's life: invited to, moved, called off, started, closed, or held without the page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import cadence
from oneonone.models import HeldClaim, Line, Meeting, Move, Placement, Side
from oneonone.models.owed import Notice
from oneonone.selectors import calendar, history
from oneonone.selectors import plan as plans

from . import agenda, carry, coming, once, record, telling
from .limits import one_line
from .refusals import AlreadyStarted, NotNow, OutOfRange, PastDate, PastNextMeeting

_UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)


def touch(meeting: Meeting, *, states: Collection[str], **changes: object) -> Meeting:
    """Change a meeting if it is still in one of ``states``; the transition's only way to the row.

    Raises NotNow when somebody else was first. The counter that wakes open pages rises with it.
    """
    changed = Meeting.objects.filter(pk=meeting.pk, state__in=states).update(
        **changes, seq=F("seq") + 1, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    meeting.refresh_from_db()
    return meeting


@transaction.atomic
def invite(*, meeting: Meeting, actor: Person | None, words: str, now: dt.datetime) -> Meeting:
    """Ask both sides for topics: the manager's invitation, by hand or by itself at its time (no actor).

    Words of the manager's own are shown in the app and never mailed.
    """
    tidy = one_line(words, field="words", most=500, required=False)
    changes: dict[str, object] = {"invited_at": now, "invited_by": actor, "invitation_words": tidy}
    if actor is not None:
        changes["confirmed_at"] = now
    changed = Meeting.objects.filter(pk=meeting.pk, state__in=_UNSTARTED, invited_at__isnull=True).update(
        **changes, seq=F("seq") + 1, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    meeting.refresh_from_db()
    telling.both(meeting=meeting, kind=Notice.Kind.INVITE, now=now)
    return meeting


@transaction.atomic
def move(*, meeting: Meeting, starts_at: dt.datetime, actor: Person, now: dt.datetime) -> Meeting:
    """Move a meeting that has not started. It stays the same meeting, with all that belongs to it.

    Refused: a time in the past, the same time, a day on or past the next date of the interval. Moved so far
    that its issue lies ahead again, it is planned once more, with the old order kept.
    """
    check_move(meeting=meeting, starts_at=starts_at, now=now)
    before = meeting.starts_at
    instants = _instants_at(meeting, starts_at)
    again = meeting.state == Meeting.State.ISSUED and instants.issue > now
    changes: dict[str, object] = {
        **coming.starts_and_instants(instants),
        "schedule_version": F("schedule_version") + 1,
        "calendar_sequence": F("calendar_sequence") + 1,
        "confirmed_at": now,
    }
    if meeting.invited_at is not None:
        del changes["invite_at"]
    if again:
        changes |= {"state": Meeting.State.PLANNED, "issued_at": None}
    elif meeting.issued_at is not None:
        del changes["issue_at"]
    touch(meeting, states=_UNSTARTED, **changes)
    Move.objects.create(meeting=meeting, from_start=before, to_start=starts_at, by=actor, at=now)
    agenda.gather(line=meeting.line, now=now)
    telling.both(meeting=meeting, kind=Notice.Kind.MOVED, now=now, but=actor, at_once=True)
    return meeting


def check_move(*, meeting: Meeting, starts_at: dt.datetime, now: dt.datetime) -> None:
    """Refuse what ``move`` refuses."""
    if meeting.state not in _UNSTARTED:
        raise NotNow
    if starts_at <= now:
        raise PastDate(field="day", accepted=_("A time that lies ahead."))
    if starts_at == meeting.starts_at:
        raise OutOfRange(field="day", accepted=_("A time other than the present one."))
    day = calendar.local_day(starts_at, meeting.zone)
    following = calendar.next_day(meeting)
    if following is not None and day >= following:
        raise PastNextMeeting(
            field="day", accepted=_("A day before %(day)s.") % {"day": following.isoformat()}
        )


def _instants_at(meeting: Meeting, starts_at: dt.datetime) -> cadence.Instants:
    local = starts_at.astimezone(ZoneInfo(meeting.zone))
    return coming.instants_at(meeting, day=local.date(), time=local.time())


@transaction.atomic
def call_off(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting | None:
    """Call a meeting off. Its topics and commitments go to the next one, which is returned."""
    if meeting.state not in _UNSTARTED:
        raise NotNow
    agenda.let_go(meeting=meeting, now=now)
    touch(
        meeting,
        states=_UNSTARTED,
        state=Meeting.State.CALLED_OFF,
        called_off_at=now,
        called_off_by=actor,
        calendar_sequence=F("calendar_sequence") + 1,
    )
    telling.both(meeting=meeting, kind=Notice.Kind.CALLED_OFF, now=now, but=actor, at_once=True)
    following = coming.ensure(line=meeting.line, now=now)
    agenda.gather(line=meeting.line, now=now)
    return following


@transaction.atomic
def extra(
    *,
    line: Line,
    day: dt.date,
    time: dt.time,
    minutes: int,
    actor: Person,
    now: dt.datetime,
    client_key: UUID | None = None,
) -> Meeting:
    """Plan a meeting outside the interval, in the line's zone. Held, it ends the silence; the grid stays.

    Refused: a time that has passed, and fewer than 10 or more than 240 minutes.
    """
    earlier = once.result(actor=actor, client_key=client_key, act="meetings.extra", model=Meeting)
    if earlier is not None:
        return earlier
    if not 10 <= minutes <= 240:
        raise OutOfRange(field="minutes", accepted=_("From 10 to 240 minutes."))
    meeting = _outside_the_interval(line, day=day, time=time, minutes=minutes, now=now)
    if meeting.starts_at <= now:
        raise PastDate(field="day", accepted=_("A time that lies ahead."))
    meeting.confirmed_at = now
    meeting.save(force_insert=True)
    agenda.gather(line=line, now=now)
    telling.both(meeting=meeting, kind=Notice.Kind.EXTRA, now=now, but=actor, at_once=True)
    once.done(actor=actor, client_key=client_key, act="meetings.extra", subject=meeting.pk, now=now)
    return meeting


def _outside_the_interval(
    line: Line, *, day: dt.date, time: dt.time | None, minutes: int | None, now: dt.datetime
) -> Meeting:
    """A meeting of its own, not stored yet; what is not given is as the interval of that day has it."""
    interval = calendar.in_force(calendar.intervals_of(line), day)
    if interval is None:
        raise NotNow
    key = uuid4()
    meeting = Meeting(
        line=line,
        is_extra=True,
        occurrence_key=f"extra:{key}",
        minutes=minutes or interval.minutes,
        zone=interval.zone,
        place=interval.place,
        call_link=interval.call_link,
        uid=str(key),
        created_at=now,
        starts_at=cadence.start_instant(day, time or interval.time, interval.zone),
    )
    for name, value in coming.starts_and_instants(_instants_at(meeting, meeting.starts_at)).items():
        setattr(meeting, name, value)
    return meeting


@transaction.atomic
def start(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting:
    """Begin. An order that was never issued is issued by it; anything else under way is in the way."""
    if meeting.state not in _UNSTARTED:
        raise NotNow
    if meeting.state == Meeting.State.PLANNED:
        agenda.issue(meeting=meeting, actor=actor, now=now, by_starting=True)
    try:
        with transaction.atomic():
            touch(
                meeting,
                states=_UNSTARTED,
                state=Meeting.State.UNDER_WAY,
                began_at=now,
                current=None,
                current_since=now,
                confirmed_at=meeting.confirmed_at or now,
            )
    except IntegrityError:
        raise AlreadyStarted(accepted=_("Close that one first.")) from None
    return meeting


@transaction.atomic
def go_on(
    *,
    meeting: Meeting,
    to: Placement | None,
    continues: bool,
    actor: Person,
    now: dt.datetime,
    version: int | None = None,
) -> Meeting:
    """Leave the running topic, and take up ``to``, or the reading back when there is none.

    ``continues`` keeps the topic that is left for next time although it was discussed. Refused: a topic of
    another meeting, one that is running or done already, and a step from where the meeting no longer is:
    ``version`` is the meeting's as its page was read, so that of two who press at once only one goes on.
    """
    if meeting.state != Meeting.State.UNDER_WAY:
        raise NotNow
    if to is not None and (to.outcome != Placement.Outcome.UNDECIDED or to.meeting_id != meeting.pk):
        raise NotNow
    left = meeting.current
    if to is not None and left is not None and to.pk == left.pk:
        raise NotNow
    if version is not None and version != meeting.version:
        raise NotNow
    moved_on = Meeting.objects.filter(
        pk=meeting.pk, state=Meeting.State.UNDER_WAY, version=meeting.version
    ).update(current=to, current_since=now, seq=F("seq") + 1, version=F("version") + 1)
    if not moved_on:
        raise NotNow
    if left is not None:
        outcome = Placement.Outcome.CONTINUES if continues else Placement.Outcome.DISCUSSED
        agenda.settle(placement=left, outcome=outcome, now=now)
    if to is not None:
        planned = history.planned_minutes(plans.latest_order(meeting), str(to.pk))
        Placement.objects.filter(pk=to.pk, began_at__isnull=True).update(
            began_at=now, minutes_planned=planned
        )
    meeting.refresh_from_db()
    return meeting


@transaction.atomic
def close(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting:
    """Close a meeting under way: held on the day it really began.

    The topic that was running counts as discussed; what was never taken up is kept for next time; the record
    is kept by reference; the next meeting is made if it is missing.
    """
    if meeting.state != Meeting.State.UNDER_WAY:
        raise NotNow
    if meeting.current is not None:
        agenda.settle(placement=meeting.current, outcome=Placement.Outcome.DISCUSSED, now=now)
    began = meeting.began_at or now
    _hold(meeting, day=calendar.local_day(began, meeting.zone), actor=actor, now=now, ended_at=now)
    return meeting


def _hold(
    meeting: Meeting, *, day: dt.date, actor: Person, now: dt.datetime, ended_at: dt.datetime | None
) -> None:
    agenda.let_go(meeting=meeting, now=now)
    touch(
        meeting,
        states=(*_UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD),
        state=Meeting.State.CLOSED,
        closed_at=now,
        ended_at=ended_at,
        held_on=day,
        current=None,
        record_at=_record_at(meeting, day),
    )
    record.snapshot(meeting=meeting, actor=actor, now=now)
    carry.recount(meeting=meeting, now=now)
    coming.ensure(line=meeting.line, now=now)
    agenda.gather(line=meeting.line, now=now)


def _record_at(meeting: Meeting, day: dt.date) -> dt.datetime:
    """When the record is due: counted from the day the meeting was really held."""
    local = meeting.starts_at.astimezone(ZoneInfo(meeting.zone))
    return _instants_at(meeting, cadence.start_instant(day, local.time(), meeting.zone)).record


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
    earlier = once.result(actor=actor, client_key=client_key, act="meetings.we_met", model=Meeting)
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
        meeting = _outside_the_interval(line, day=day, time=None, minutes=None, now=now)
        meeting.save(force_insert=True)
    elif meeting.state not in (*_UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD):
        raise NotNow
    agenda.hear(meeting=meeting, placements=discussed, actor=actor, now=now)
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
    _hold(meeting, day=day, actor=actor, now=now, ended_at=None)
    claim(meeting=meeting, side=side, held=True, day=day, actor=actor, now=now)
    once.done(actor=actor, client_key=client_key, act="meetings.we_met", subject=meeting.pk, now=now)
    return meeting


@transaction.atomic
def claim(
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
    agenda.let_go(meeting=meeting, now=now)
    if meeting.state == Meeting.State.UNDER_WAY:
        touch(meeting, states=(Meeting.State.UNDER_WAY,), given_up_at=now, current=None)
    else:
        touch(meeting, states=_UNSTARTED, state=Meeting.State.NOT_HELD, given_up_at=now)
    coming.ensure(line=meeting.line, now=now)
    agenda.gather(line=meeting.line, now=now)
    return meeting


def nearest_for(*, line: Line, day: dt.date) -> tuple[Meeting | None, bool]:
    """The meeting that "we met on ``day``" most likely was, and whether yes is the likelier answer.

    Yes is offered when the day is nearer to it than half an interval.
    """
    candidates = line.meetings.filter(
        state__in=(*_UNSTARTED, Meeting.State.UNDER_WAY, Meeting.State.NOT_HELD)
    )
    planned = {calendar.local_day(one.starts_at, one.zone): one for one in candidates.order_by("-starts_at")}
    interval = calendar.in_force(calendar.intervals_of(line), day)
    claim = None if interval is None else cadence.claimed(day, list(planned), calendar.rule_of(interval))
    return (None, False) if claim is None else (planned[claim.planned], claim.likely)
