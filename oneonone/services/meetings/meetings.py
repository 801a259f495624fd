"""One meeting: invite, move, call off, plan an extra one, start, go through its topics, close."""

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
from oneonone.selectors.agenda import duration_history, orders
from oneonone.selectors.dates import line_calendar
from oneonone.services import idempotency
from oneonone.services.agenda import issuing, order_versions, placing
from oneonone.services.meetings import coming_meetings, held_claims
from oneonone.services.meetings.intervals import LONGEST, SHORTEST
from oneonone.services.meetings.transitions import UNSTARTED, touch
from oneonone.services.notices import meeting_notices
from oneonone.services.refusals import AlreadyStarted, MovedOn, NotNow, OutOfRange, PastDate, PastNextMeeting
from oneonone.services.text_limits import one_line


@transaction.atomic
def invite(*, meeting: Meeting, actor: Person | None, words: str, now: dt.datetime) -> Meeting:
    """Ask both sides for topics. ``actor`` is the manager, or None for the automatic invitation.

    ``words`` is the manager's own message. It is shown in the app and never mailed. An automatic invitation
    that goes out again after a move keeps it.
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
    meeting_notices.both(meeting=meeting, kind=Notice.Kind.INVITE, now=now)
    return meeting


@transaction.atomic
def move(*, meeting: Meeting, starts_at: dt.datetime, actor: Person, now: dt.datetime) -> Meeting:
    """Move a meeting that has not started. The row and everything that refers to it stay.

    Refused: a time in the past, the same time, a day on or past the next date of the interval. If the issue
    time of the new date is in the future, the meeting goes back to *planned*: it collects topics again, its
    instants are those of the new date, and the order issued before is kept.
    """
    check_move(meeting=meeting, starts_at=starts_at, now=now)
    before = meeting.starts_at
    instants = coming_meetings.instants_from(meeting, starts_at)
    again = meeting.state == Meeting.State.ISSUED and instants.issue > now
    changes: dict[str, object] = {
        **coming_meetings.starts_and_instants(instants),
        "schedule_version": F("schedule_version") + 1,
        "calendar_sequence": F("calendar_sequence") + 1,
        "confirmed_at": now,
    }
    if again:
        changes |= {"state": Meeting.State.PLANNED, "issued_at": None}
    elif meeting.issued_at is not None:
        del changes["issue_at"]
    changes |= {"invited_at": None} if again else coming_meetings.asked_anew(meeting, instants, now=now)
    touch(meeting, states=UNSTARTED, **changes)
    if again:
        # No topic is late for an order that is not issued yet.
        placing.nothing_is_late(meeting=meeting, now=now)
    Move.objects.create(meeting=meeting, from_start=before, to_start=starts_at, by=actor, at=now)
    placing.gather(line=meeting.line, now=now)
    meeting_notices.both(
        meeting=meeting, kind=Notice.Kind.MOVED, now=now, but=actor, at_once=True, was=before
    )
    return meeting


def check_move(*, meeting: Meeting, starts_at: dt.datetime, now: dt.datetime) -> None:
    """Refuse what ``move`` refuses."""
    if meeting.state not in UNSTARTED:
        raise NotNow
    if starts_at <= now:
        raise PastDate(field="day", accepted=_("A time in the future."))
    if starts_at == meeting.starts_at:
        raise OutOfRange(field="day", accepted=_("A different time."))
    day = line_calendar.local_day(starts_at, meeting.zone)
    following = line_calendar.next_day(meeting)
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
    meeting_notices.both(meeting=meeting, kind=Notice.Kind.CALLED_OFF, now=now, but=actor, at_once=True)
    following = coming_meetings.ensure(line=meeting.line, now=now)
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
    """Plan an extra meeting, in the line's zone. If it is held, the silence ends; the interval's dates stay.

    Refused: a time that has passed, and fewer than 10 or more than 240 minutes.
    """
    earlier = idempotency.result(actor=actor, client_key=client_key, act="meetings.extra", model=Meeting)
    if earlier is not None:
        return earlier
    meeting = coming_meetings.outside_the_interval(line, day=day, time=time, minutes=minutes, now=now)
    check_extra(starts_at=meeting.starts_at, minutes=minutes, now=now)
    meeting.confirmed_at = now
    meeting.save(force_insert=True)
    placing.gather(line=line, now=now)
    meeting_notices.both(meeting=meeting, kind=Notice.Kind.EXTRA, now=now, but=actor, at_once=True)
    idempotency.done(actor=actor, client_key=client_key, act="meetings.extra", subject=meeting.pk, now=now)
    return meeting


def check_extra(*, starts_at: dt.datetime, minutes: int, now: dt.datetime) -> None:
    """Refuse what ``extra`` refuses."""
    if not SHORTEST <= minutes <= LONGEST:
        raise OutOfRange(
            field="minutes",
            accepted=_("From %(least)d to %(most)d minutes.") % {"least": SHORTEST, "most": LONGEST},
        )
    if starts_at <= now:
        raise PastDate(field="day", accepted=_("A time in the future."))


@transaction.atomic
def start(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting:
    """Start a meeting. An order that was not issued yet is issued first.

    Idempotent: starting a meeting that is under way changes nothing. Refused: while another meeting of the
    line is under way.
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
    """Leave the current topic and begin ``to``, or the reading back if ``to`` is None.

    ``continues`` keeps the topic that is left for next time although it was discussed. ``version`` is the
    meeting's version when the page was read: if two people press at once, only the first step is made, and
    the second succeeds without a change if it asked for the same topic. Refused: a topic of another meeting,
    a topic that is decided already, and a second step to a different topic.
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
        planned = duration_history.planned_minutes(orders.latest(meeting), str(to.pk))
        waiting = Placement.objects.filter(pk=to.pk, outcome=Placement.Outcome.UNDECIDED)
        waiting.filter(began_at__isnull=True).update(began_at=now, minutes_planned=planned)
        if not waiting.exists():
            # Withdrawn or parked since it was read. As the current topic it could not be left again.
            raise NotNow
    meeting.refresh_from_db()
    return meeting


def _gone_on_already(meeting: Meeting, *, to: Placement | None, continues: bool) -> Meeting:
    """Handle a step after the other side made one first. The same step is accepted without a change.

    If either of the two asked to keep the topic for next time, it is kept. Refused: a different step.
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
    """Close a meeting under way. It was held on the day on which it began.

    The current topic counts as discussed. Topics that were not begun are kept for next time. A snapshot of
    the record is stored, and the next meeting is made if there is none. Idempotent.
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
    held_claims.hold(
        meeting=meeting, day=line_calendar.local_day(began, meeting.zone), actor=actor, now=now, ended_at=now
    )
    return meeting
