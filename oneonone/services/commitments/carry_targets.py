"""Which meeting carried commitments appear at: the line's earliest coming one."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet

from oneonone.models import Carry, Line, Meeting
from oneonone.selectors.dates import coming_meetings


def waiting(now: dt.datetime) -> QuerySet[Line]:
    """Open lines on which ``aim`` has something to do: carries that wait, or were overtaken."""
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
    """Point the line's waiting carries at its earliest coming meeting; how many were turned.

    Those aimed at a meeting that is not issued yet follow when an earlier one is put in; one that is issued
    keeps what was prepared for it. Doing it twice changes nothing.
    """
    following = coming_meetings.earliest(line)
    return 0 if following is None else aim_at(following)


def aim_at(following: Meeting) -> int:
    """The same, where the line's earliest coming meeting is known. One statement."""
    loose = Q(to_meeting__isnull=True) | Q(to_meeting__state=Meeting.State.PLANNED)
    turned = (
        Carry.objects.filter(loose, commitment__line=following.line_id)
        .exclude(cause=Carry.Cause.ENDED)
        .exclude(from_meeting=following)
        .exclude(to_meeting=following)
    )
    return Carry.objects.filter(pk__in=turned.values("pk")).update(to_meeting=following)
