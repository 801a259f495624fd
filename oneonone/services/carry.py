"""Carry open commitments automatically from one meeting to the next.

A carry is a row, unique for a commitment and the meeting it left. It stores its cause and the commitment's
date at that time. How often a commitment was carried is counted from the rows: ``Carry.objects.counted()``.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from oneonone.models import Carry, Commitment, Line, Meeting
from oneonone.selectors import coming
from oneonone.services.agenda import third_time

_OVER = (Meeting.State.CLOSED, Meeting.State.CALLED_OFF, Meeting.State.NOT_HELD)


def due(now: dt.datetime) -> QuerySet[Meeting]:
    """Meetings that are over or given up, and whose commitments have not been carried yet."""
    given_up = Q(state=Meeting.State.UNDER_WAY, given_up_at__isnull=False)
    return (
        Meeting.objects.filter(Q(state__in=_OVER) | given_up, carried_at__isnull=True)
        .select_related("line")
        .order_by("starts_at", "id")
    )


@transaction.atomic
def carry(*, meeting: Meeting, now: dt.datetime) -> bool:
    """Carry the open commitments of a meeting that is over to the line's earliest coming meeting.

    Returns False if another process has claimed the meeting. The original date of a commitment stays. Without
    a coming meeting the carry has no target yet; on an ended line it never gets one.
    """
    claimed = Meeting.objects.filter(pk=meeting.pk, carried_at__isnull=True).update(carried_at=now)
    if not claimed:
        return False
    meeting.refresh_from_db()
    cause = _cause(meeting)
    following = None if cause == Carry.Cause.ENDED else _following(meeting)
    left = Commitment.objects.filter(
        line=meeting.line_id, state=Commitment.State.OPEN, created_at__lte=_until(meeting, now)
    )
    Carry.objects.bulk_create(
        (
            Carry(
                commitment_id=pk,
                from_meeting=meeting,
                to_meeting=following,
                cause=cause,
                date_then=date,
                at=now,
            )
            for pk, date in left.values_list("pk", "current_date")
        ),
        ignore_conflicts=True,
    )
    if cause == Carry.Cause.CLOSED:
        third_time.ask(meeting=meeting, now=now)
    return True


def _cause(meeting: Meeting) -> Carry.Cause:
    if meeting.state == Meeting.State.CLOSED:
        return Carry.Cause.CLOSED
    if not meeting.line.is_open:
        return Carry.Cause.ENDED
    if meeting.state == Meeting.State.CALLED_OFF:
        return Carry.Cause.CALLED_OFF
    return Carry.Cause.NOT_HELD


def _until(meeting: Meeting, now: dt.datetime) -> dt.datetime:
    """Commitments made after this instant belong to the next meeting."""
    return meeting.closed_at or meeting.called_off_at or meeting.given_up_at or now


def _following(meeting: Meeting) -> Meeting | None:
    following = coming.earliest(meeting.line)
    return None if following is None or following.pk == meeting.pk else following


def waiting(now: dt.datetime) -> QuerySet[Line]:
    """Open lines on which ``aim`` has work: carries without a target, or with an earlier meeting coming."""
    ahead = Meeting.objects.coming().filter(line=OuterRef("commitment__line"), given_up_at__isnull=True)
    earlier = ahead.filter(starts_at__lt=OuterRef("to_meeting__starts_at"))
    lines = (
        Carry.objects.filter(
            Q(Exists(ahead), to_meeting__isnull=True)
            | Q(Exists(earlier), to_meeting__state=Meeting.State.PLANNED)
        )
        .exclude(cause=Carry.Cause.ENDED)
        .values("commitment__line")
    )
    return Line.objects.open().filter(pk__in=lines).order_by("created_at", "id")


@transaction.atomic
def aim(*, line: Line, now: dt.datetime) -> int:
    """Point the line's open carries at its earliest coming meeting. Returns how many changed. Idempotent.

    Carries to a meeting that is not issued yet follow to an earlier meeting. Carries to an issued meeting
    stay, because people prepare for it.
    """
    following = coming.earliest(line)
    if following is None:
        return 0
    loose = Q(to_meeting__isnull=True) | Q(to_meeting__state=Meeting.State.PLANNED)
    turned = (
        Carry.objects.filter(loose, commitment__line=line)
        .exclude(cause=Carry.Cause.ENDED)
        .exclude(from_meeting=following)
        .exclude(to_meeting=following)
    )
    ids = list(turned.values_list("pk", flat=True))
    return Carry.objects.filter(pk__in=ids).update(to_meeting=following)


@transaction.atomic
def recount(*, meeting: Meeting, now: dt.datetime) -> int:
    """Count the carries of a given-up meeting that turned out to be held like those of a closed one.

    Returns how many changed. Does nothing if the job has not carried the commitments yet.
    """
    if meeting.state != Meeting.State.CLOSED or meeting.carried_at is None:
        return 0
    changed = (
        Carry.objects.filter(from_meeting=meeting)
        .exclude(cause=Carry.Cause.CLOSED)
        .update(cause=Carry.Cause.CLOSED)
    )
    third_time.ask(meeting=meeting, now=now)
    return changed
