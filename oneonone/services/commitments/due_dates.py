"""The dates of a commitment: forecast, new date, and the owner's own reminder day."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Commitment, Meeting, Revision
from oneonone.models.followthrough import CommitmentCue
from oneonone.selectors.dates import line_calendar
from oneonone.services.commitments import reminder_times
from oneonone.services.record import record
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange, PastDate, Stale
from oneonone.services.text_limits import one_line

FURTHEST_YEARS = 5


def check_date(date: dt.date, *, actor: Person, now: dt.datetime) -> None:
    """Refuse a date before today in the actor's zone, and one so far ahead that it must be a typing error."""
    today = line_calendar.local_day(now, actor.zone)
    if date < today:
        raise PastDate(field="date", accepted=_("Today, %(day)s, or later.") % {"day": today.isoformat()})
    if date > today + dt.timedelta(days=FURTHEST_YEARS * 366):
        raise OutOfRange(
            field="date", accepted=_("A date within the next %(years)d years.") % {"years": FURTHEST_YEARS}
        )


@transaction.atomic
def forecast(*, commitment: Commitment, value: str, actor: Person, now: dt.datetime) -> Commitment:
    """Set whether the owner expects to meet the date."""
    check_owner(commitment, actor)
    if value not in Commitment.Forecast.values:
        raise OutOfRange(field="forecast", accepted=_("Will make the date, or may slip."))
    changed = Commitment.objects.filter(pk=commitment.pk, state=Commitment.State.OPEN).update(
        forecast=value, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    commitment.refresh_from_db()
    touch(commitment)
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
    """Change the current date. The original date stays, and each change is stored as a Revision.

    ``reason`` and ``basis`` (what makes the new date likely) are shared with the other side. Refused: a date
    in the past, the current date, and a commitment that has changed since ``version`` was read.
    """
    check_owner(commitment, actor)
    if commitment.state != Commitment.State.OPEN:
        raise NotNow
    check_date(date, actor=actor, now=now)
    before = commitment.current_date
    if date == before:
        raise OutOfRange(field="date", accepted=_("A different date."))
    shared = {
        "reason": one_line(reason, field="reason", most=200, required=False),
        "basis": one_line(basis, field="basis", most=200, required=False),
    }
    changed = Commitment.objects.filter(
        pk=commitment.pk, version=version, state=Commitment.State.OPEN
    ).update(
        current_date=date,
        forecast=Commitment.Forecast.WILL_MAKE,
        remind_at=reminder_times.before_date(actor, date, now=now),
        # Choosing a date confirms an offered commitment.
        confirmed_at=commitment.confirmed_at or now,
        version=F("version") + 1,
    )
    commitment.refresh_from_db()
    if not changed:
        raise Stale(theirs={"date": commitment.current_date.isoformat()}, version=commitment.version)
    Revision.objects.create(commitment=commitment, from_date=before, to_date=date, by=actor, at=now, **shared)
    touch(commitment)
    return commitment


@transaction.atomic
def keep(*, commitment: Commitment, actor: Person, now: dt.datetime) -> Commitment:
    """Keep a carried commitment as it is, with its date.

    The owner is not asked again before the next carry. Refused: a commitment that is not open.
    """
    check_owner(commitment, actor)
    changed = Commitment.objects.filter(pk=commitment.pk, state=Commitment.State.OPEN).update(
        kept_at=now, version=F("version") + 1
    )
    if not changed:
        raise NotNow
    commitment.refresh_from_db()
    touch(commitment)
    return commitment


@transaction.atomic
def set_cue(*, commitment: Commitment, on: dt.date | None, actor: Person, now: dt.datetime) -> None:
    """Set the owner's reminder day, or delete it with None.

    Nobody else sees it. Refused: a day in the past.
    """
    check_owner(commitment, actor)
    if on is None:
        CommitmentCue.objects.filter(commitment=commitment).delete()
        return
    if commitment.state != Commitment.State.OPEN:
        raise NotNow
    if on < line_calendar.local_day(now, actor.zone):
        raise PastDate(field="cue_on", accepted=_("Today or later."))
    CommitmentCue.objects.update_or_create(
        commitment=commitment,
        defaults={"owner": actor, "on": on, "remind_at": reminder_times.on_day(actor, on)},
    )


def remind_of_cue(*, commitment: Commitment, actor: Person, now: dt.datetime) -> None:
    """Set the owner's reminder again for a reopened commitment, if its day is in the future."""
    today = line_calendar.local_day(now, actor.zone)
    cue = CommitmentCue.objects.filter(commitment=commitment, owner=actor, on__gt=today).first()
    if cue is not None:
        CommitmentCue.objects.filter(pk=cue.pk).update(remind_at=reminder_times.on_day(actor, cue.on))


def check_owner(commitment: Commitment, actor: Person) -> None:
    """Refuse everybody but the owner. The owner keeps this right after the line has ended."""
    if commitment.owner_id != actor.pk:
        raise NotAllowed


def touch(commitment: Commitment) -> None:
    """Update open pages of a meeting under way on the commitment's line."""
    for meeting in commitment.line.meetings.filter(state=Meeting.State.UNDER_WAY):
        record.touch(meeting)
