"""Undo the start of a meeting."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Meeting, Order, Placement, Proposal
from oneonone.models.owed import Notice
from oneonone.selectors.agenda import orders
from oneonone.selectors.meetings.meeting_under_way import may_be_taken_back
from oneonone.services.agenda import issuing, late_topics, order_versions, placing
from oneonone.services.meetings.transitions import touch
from oneonone.services.notices import notices
from oneonone.services.refusals import NotNow


@transaction.atomic
def take_back(*, meeting: Meeting, actor: Person, now: dt.datetime) -> Meeting:
    """Put a meeting that was started back to its state before the start.

    If the start issued the order, that version is withdrawn, as is every version since. Topics added since
    the start stay. Idempotent. Refused once a record line is written or a second topic has begun (design: the
    cycle, 4).
    """
    # Locks the row: a concurrent line or step waits, or is seen here.
    order_versions.touch(meeting=meeting)
    meeting.refresh_from_db()
    if meeting.state in (Meeting.State.PLANNED, Meeting.State.ISSUED):
        return meeting
    began = meeting.began_at
    if began is None or not may_be_taken_back(meeting):
        raise NotNow(accepted=_("Close it instead."))
    since = Order.objects.filter(meeting=meeting, at__gte=began)
    started = since.filter(cause=Order.Cause.STARTED).first()
    for placement in meeting.placements.filter(began_at__gte=began):
        placing.unsettle(placement=placement)
    since.update(withdrawn_at=now)
    order_versions.take_hand_back(meeting=meeting, to=started or orders.latest(meeting))
    touch(
        meeting,
        states=(Meeting.State.UNDER_WAY,),
        state=Meeting.State.PLANNED if started else Meeting.State.ISSUED,
        issued_at=None if started else meeting.issued_at,
        # The start confirmed the date if nobody had confirmed it before.
        confirmed_at=None if meeting.confirmed_at == began else meeting.confirmed_at,
        began_at=None,
        current=None,
        current_since=None,
    )
    notices.cancel(kind=Notice.Kind.LEFT_OPEN, subject=meeting.pk, now=now)
    if started:
        placing.nothing_is_late(meeting=meeting, now=now)
    else:
        _place_what_was_added(meeting, began, actor=actor, now=now)
    return meeting


def _place_what_was_added(meeting: Meeting, began: dt.datetime, *, actor: Person, now: dt.datetime) -> None:
    """Place the topics that were added since the start, as late topics of the order before it."""
    asked = Proposal.objects.filter(meeting=meeting, kind=Proposal.Kind.LATE_TOPIC)
    added = meeting.placements.filter(
        outcome=Placement.Outcome.UNDECIDED, is_late=True, added_at__gte=began
    ).exclude(pk__in=asked.exclude(placement=None).values("placement"))
    for placement in added.select_related("topic", "meeting__line"):
        if issuing.is_without_place(placement=placement):
            late_topics.take_late(placement=placement, actor=actor, now=now)
    issuing.changed(meeting=meeting, actor=actor, now=now)
