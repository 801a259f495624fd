"""When the jobs have work next, and what they did in a period."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Count, F, Min, Q, QuerySet

from accounts.models import Person
from oneonone.models import Carry, Commitment, Line, Mail, Meeting, Notice, Order
from oneonone.models.followthrough import CommitmentCue

UNSTARTED = (Meeting.State.PLANNED, Meeting.State.ISSUED)
# Both are asked about an unanswered meeting a day after its start.
ASKED_AFTER = dt.timedelta(days=1)
# Of the last day to prepare people are reminded as it begins.
PREPARED_IN = dt.timedelta(days=1)


@dataclass(frozen=True)
class Fell:
    """What the jobs did in a period: numbers of notices by kind, orders, carries and mails."""

    notices: dict[str, int]
    orders: int
    carries: int
    mails: int

    @property
    def nothing(self) -> bool:
        return not (self.notices or self.orders or self.carries or self.mails)


def next_instant(now: dt.datetime) -> dt.datetime | None:
    """The first instant after ``now`` at which a job may have work, or None."""
    return min(_instants(now), default=None)


def _instants(now: dt.datetime) -> Iterator[dt.datetime]:
    meetings = Meeting.objects.filter(line__ended_at__isnull=True)
    planned = meetings.filter(state=Meeting.State.PLANNED)
    ahead = meetings.filter(state__in=UNSTARTED)
    yield from _first(planned.filter(invited_at__isnull=True), "invite_at", now)
    yield from _first(planned, "issue_at", now)
    for last in _first(meetings.filter(state=Meeting.State.ISSUED), "prepare_by_at", now + PREPARED_IN):
        yield last - PREPARED_IN
    yield from _first(ahead, "today_at", now)
    yield from _first(ahead, "starts_at", now)
    for asked in _first(ahead, "starts_at", now - ASKED_AFTER):
        yield asked + ASKED_AFTER
    for asked in _first(meetings.filter(state=Meeting.State.UNDER_WAY), "began_at", now - ASKED_AFTER):
        yield asked + ASKED_AFTER
    yield from _first(meetings.filter(state=Meeting.State.CLOSED), "record_at", now)
    yield from _first(Commitment.objects.filter(state=Commitment.State.OPEN), "remind_at", now)
    yield from _first(CommitmentCue.objects.all(), "remind_at", now)
    yield from _first(Notice.objects.filter(cancelled_at__isnull=True), "owed_at", now)
    yield from _first(Mail.objects.filter(state=Mail.State.QUEUED), "not_before", now)
    yield from _first(Line.objects.open().exclude(start=Line.Start.ALONE), "standing_at", now)


def next_start(now: dt.datetime, reader: Person | None) -> dt.datetime | None:
    """The start of the reader's next unstarted meeting, or of anybody's if the reader has none."""
    ahead = Meeting.objects.filter(line__ended_at__isnull=True, state__in=UNSTARTED, starts_at__gt=now)
    own = ahead.filter(Q(line__manager=reader) | Q(line__report=reader)) if reader else ahead.none()
    for rows in (own, ahead):
        first = rows.order_by("starts_at").values_list("starts_at", flat=True).first()
        if first is not None:
            return first
    return None


def _first(rows: QuerySet, field: str, now: dt.datetime) -> Iterator[dt.datetime]:  # type: ignore[type-arg]
    found = rows.filter(**{f"{field}__gt": now}).aggregate(first=Min(F(field)))["first"]
    if found is not None:
        yield found


def fell(after: dt.datetime, until: dt.datetime) -> Fell:
    """What fell due after ``after`` and up to ``until``, as far as it has been done."""
    notices = (
        Notice.objects.filter(owed_at__gt=after, owed_at__lte=until, cancelled_at__isnull=True)
        .values("kind")
        .annotate(number=Count("id"))
        .values_list("kind", "number")
    )
    issued = Order.objects.filter(cause=Order.Cause.ISSUED, by__isnull=True)
    return Fell(
        notices=dict(notices.order_by("kind")),
        orders=issued.filter(at__gt=after, at__lte=until).count(),
        carries=Carry.objects.filter(at__gt=after, at__lte=until).count(),
        mails=Mail.objects.filter(sent_at__gt=after, sent_at__lte=until).count(),
    )
