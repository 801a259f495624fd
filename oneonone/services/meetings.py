"""One meeting's life: invited to, moved, called off, started, gone through, closed."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Line, Meeting, Move, Placement
from oneonone.models.locks import lock_line
from oneonone.models.owed import Notice
from oneonone.selectors import calendar
from oneonone.selectors.agenda import history, orders
from oneonone.services.agenda import issuing, order_versions, placing

from . import claims, coming, once, telling
from .intervals import LONGEST, SHORTEST
from .limits import one_line
from .refusals import AlreadyStarted, MovedOn, NotNow, OutOfRange, PastDate, PastNextMeeting
from .transitions import UNSTARTED, touch


@transaction.atomic
def invite(*, meeting: Meeting, actor: Person | None, words: str, now: dt.datetime) -> Meeting:
    """Ask both sides for topics: the manager's invitation, by hand or by itself at its time (no actor).

    Words of the manager's own are shown in the app and never mailed. An invitation that goes out again by
    itself, for a date it was moved to, keeps them.
    """
    changes: dict[str, object] = {"invited_at": now, "invited_by": actor}
    if actor is not None:
        tidy = one_line(words, field="words", most=500, required=False)
        changes |= {"invitation_words": tidy, "confirmed_at": now}
    changed = Meeting.objects.filter(pk=meeting.pk, state__in=UNSTARTED, invited_at__isnull=True).update(
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
    that its issue lies ahead again, it is planned once more, with the old order kept, and gathers topics
    anew: the moments are those of the new date.
    """
    check_move(meeting=meeting, starts_at=starts_at, now=now)
    before = meeting.starts_at
    instants = coming.instants_from(meeting, starts_at)
    again = meeting.state == Meeting.State.ISSUED and instants.issue > now
    changes: dict[str, object] = {
        **coming.starts_and_instants(instants),
        "schedule_version": F("schedule_version") + 1,
        "calendar_sequence": F("calendar_sequence") + 1,
        "confirmed_at": now,
    }
    if again:
        changes |= {"state": Meeting.State.PLANNED, "issued_at": None}
    elif meeting.issued_at is not None:
        del changes["issue_at"]
    changes |= {"invited_at": None} if again else coming.asked_anew(meeting, instants, now=now)
    touch(meeting, states=UNSTARTED, **changes)
    if again:
        # Nothing is late for an order that is still to be issued.
        placing.nothing_is_late(meeting=meeting, now=now)
    Move.objects.create(meeting=meeting, from_start=before, to_start=starts_at, by=actor, at=now)
    placing.gather(line=meeting.line, now=now)
    telling.both(meeting=meeting, kind=Notice.Kind.MOVED, now=now, but=actor, at_once=True, was=before)
    return meeting


def check_move(*, meeting: Meeting, starts_at: dt.datetime, now: dt.datetime) -> None:
    """Refuse what ``move`` refuses."""
    if meeting.state not in UNSTARTED:
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


@transaction.atomic
def call_off(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting | None:
    """Call a meeting off. Its topics and commitments go to the next one, which is returned."""
    lock_line(meeting.line)
    if meeting.state not in UNSTARTED:
        raise NotNow
    placing.let_go(meeting=meeting, now=now)
    touch(
        meeting,
        states=UNSTARTED,
        state=Meeting.State.CALLED_OFF,
        called_off_at=now,
        called_off_by=actor,
        calendar_sequence=F("calendar_sequence") + 1,
    )
    telling.both(meeting=meeting, kind=Notice.Kind.CALLED_OFF, now=now, but=actor, at_once=True)
    following = coming.ensure(line=meeting.line, now=now)
    placing.gather(line=meeting.line, now=now)
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
    meeting = coming.outside_the_interval(line, day=day, time=time, minutes=minutes, now=now)
    check_extra(starts_at=meeting.starts_at, minutes=minutes, now=now)
    meeting.confirmed_at = now
    meeting.save(force_insert=True)
    placing.gather(line=line, now=now)
    telling.both(meeting=meeting, kind=Notice.Kind.EXTRA, now=now, but=actor, at_once=True)
    once.done(actor=actor, client_key=client_key, act="meetings.extra", subject=meeting.pk, now=now)
    return meeting


def check_extra(*, starts_at: dt.datetime, minutes: int, now: dt.datetime) -> None:
    """Refuse what ``extra`` refuses."""
    if not SHORTEST <= minutes <= LONGEST:
        raise OutOfRange(
            field="minutes",
            accepted=_("From %(least)d to %(most)d minutes.") % {"least": SHORTEST, "most": LONGEST},
        )
    if starts_at <= now:
        raise PastDate(field="day", accepted=_("A time that lies ahead."))


@transaction.atomic
def start(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting:
    """Begin. An order that was never issued is issued by it; anything else under way is in the way.

    Of two who start it at once both have what they wanted: the second start changes nothing.
    """
    if meeting.state == Meeting.State.UNDER_WAY:
        return meeting
    if meeting.state not in UNSTARTED:
        raise NotNow
    if meeting.state == Meeting.State.PLANNED:
        issuing.issue(meeting=meeting, actor=actor, now=now, by_starting=True)
    try:
        with transaction.atomic():
            touch(
                meeting,
                states=UNSTARTED,
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

    ``continues`` keeps the topic that is left for next time although it was discussed. ``version`` is the
    meeting's as its page was read, so that of two who press at once only one goes on; the other has what they
    wanted if they pressed for the same. Refused: a topic of another meeting, one that is done already, and a
    step to elsewhere from where the meeting no longer is.
    """
    if meeting.state != Meeting.State.UNDER_WAY:
        raise NotNow
    if version is not None and version != meeting.version:
        return _gone_on_already(meeting, to=to, continues=continues)
    if to is not None and (to.outcome != Placement.Outcome.UNDECIDED or to.meeting_id != meeting.pk):
        raise NotNow
    left = meeting.current
    if to is not None and left is not None and to.pk == left.pk:
        raise NotNow
    moved_on = Meeting.objects.filter(
        pk=meeting.pk, state=Meeting.State.UNDER_WAY, version=meeting.version
    ).update(current=to, current_since=now, seq=F("seq") + 1, version=F("version") + 1)
    if not moved_on:
        meeting.refresh_from_db()
        if version is None or meeting.state != Meeting.State.UNDER_WAY:
            raise NotNow
        return _gone_on_already(meeting, to=to, continues=continues)
    if left is not None:
        outcome = Placement.Outcome.CONTINUES if continues else Placement.Outcome.DISCUSSED
        placing.settle(placement=left, outcome=outcome, now=now)
    if to is not None:
        planned = history.planned_minutes(orders.latest(meeting), str(to.pk))
        waiting = Placement.objects.filter(pk=to.pk, outcome=Placement.Outcome.UNDECIDED)
        waiting.filter(began_at__isnull=True).update(began_at=now, minutes_planned=planned)
        if not waiting.exists():
            # Withdrawn or parked since it was read: as the running topic it could never be left again.
            raise NotNow
    meeting.refresh_from_db()
    return meeting


def _gone_on_already(meeting: Meeting, *, to: Placement | None, continues: bool) -> Meeting:
    """The other side went on first. That is no refusal for whoever pressed for the same.

    What one of the two wanted kept for next time is kept. Refused: where the meeting is somewhere else.
    """
    if meeting.current_id != (None if to is None else to.pk):
        raise MovedOn
    if continues:
        left = meeting.placements.filter(
            outcome=Placement.Outcome.DISCUSSED, ended_at=meeting.current_since
        ).select_related("topic")
        for placement in left:
            placing.keep_after_all(placement=placement)
    return meeting


@transaction.atomic
def close(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting:
    """Close a meeting under way: held on the day it really began.

    The topic that was running counts as discussed; what was never taken up is kept for next time; the record
    is kept by reference; the next meeting is made if it is missing. Closed twice, the first time stays.
    """
    lock_line(meeting.line)
    # Holds the row: whoever goes on in the same moment is seen here, or is told that it is closed.
    order_versions.touch(meeting=meeting)
    meeting.refresh_from_db()
    if meeting.state == Meeting.State.CLOSED and meeting.ended_at is not None:
        return meeting
    if meeting.state != Meeting.State.UNDER_WAY:
        raise NotNow
    if meeting.current is not None:
        placing.settle(placement=meeting.current, outcome=Placement.Outcome.DISCUSSED, now=now)
    began = meeting.began_at or now
    claims.hold(
        meeting=meeting, day=calendar.local_day(began, meeting.zone), actor=actor, now=now, ended_at=now
    )
    return meeting
