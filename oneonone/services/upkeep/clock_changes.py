"""Meetings keep the local time that was agreed when the time zone database changes.

What the clocks of each zone were taken to do is kept; where they now do otherwise, the local time of a
meeting is told by the clocks that its instants were computed with, and the instants are computed again.
"""

from __future__ import annotations

import datetime as dt

from django.db.models import F, Q, QuerySet

from oneonone import cadence
from oneonone.models import Meeting, Notice, ZoneRules
from oneonone.models.people import with_people
from oneonone.selectors.dates import line_calendar
from oneonone.services.meetings import coming_meetings
from oneonone.services.notices import meeting_notices
from oneonone.services.notices.job_queue import Job

DAY, MINUTE = dt.timedelta(days=1), dt.timedelta(minutes=1)
EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
# Meetings in the past days may still be under way; those ahead reach no further than their dates are made.
BEHIND, AHEAD = 2 * DAY, line_calendar.HORIZON
# Not once a day: what is agreed after the database has changed is computed with the new one.
LOOK_EVERY = dt.timedelta(minutes=10)


def learn(now: dt.datetime) -> int:
    """Begin to watch the zones of coming meetings that are not watched yet; how many those are."""
    known = ZoneRules.objects.values("zone")
    zones = Meeting.objects.coming().exclude(zone__in=known).order_by().values_list("zone", flat=True)
    new = 0
    for zone in zones.distinct():
        _row, made = ZoneRules.objects.get_or_create(zone=zone, defaults=_columns(zone, now))
        new += made
    return new


def to_look_at(now: dt.datetime) -> QuerySet[ZoneRules]:
    """Zones whose clocks have not been compared lately."""
    return ZoneRules.objects.filter(look_at__lte=now).order_by("look_at", "zone")


def look(rules: ZoneRules, now: dt.datetime) -> None:
    """Keep what the clocks do now, and where that is something else, put the meetings in between right.

    Of several processes that look at once one goes on; the keeping and the meetings are one transaction.
    """
    before = _kept(rules)
    claimed = ZoneRules.objects.filter(pk=rules.pk, version=rules.version).update(
        **_columns(rules.zone, now), version=F("version") + 1
    )
    if not claimed:
        return
    after = cadence.Clocks.of(rules.zone, rules.first, rules.until)
    for begins, ends in cadence.differing(before, after):
        touched = Q(invite_at__lt=ends) & (Q(record_at__gte=begins) | Q(starts_at__gte=begins))
        ahead = Meeting.objects.coming().filter(touched, zone=rules.zone, starts_at__gt=now)
        for meeting in with_people(ahead.select_related("interval"), "line__manager", "line__report"):
            _keep_local_time(meeting, before, now)


def _keep_local_time(meeting: Meeting, clocks: cadence.Clocks, now: dt.datetime) -> None:
    if not meeting.line.is_open or meeting.state == Meeting.State.UNDER_WAY:
        return
    agreed, version = clocks.local(meeting.starts_at), meeting.schedule_version
    instants = coming_meetings.instants_at(meeting, day=agreed.date(), time=agreed.time())
    coming_meetings.write_instants(meeting, instants, now=now)
    if meeting.schedule_version != version:
        meeting_notices.both(meeting=meeting, kind=Notice.Kind.CLOCKS, now=now, at_once=True)


def _columns(zone: str, now: dt.datetime) -> dict[str, object]:
    clocks = cadence.Clocks.of(zone, (now - BEHIND).date(), (now + AHEAD).date())
    return {
        "first": clocks.first,
        "until": clocks.until,
        "offset_minutes": clocks.offset // MINUTE,
        "changes": [[(when - EPOCH) // MINUTE, offset // MINUTE] for when, offset in clocks.changes],
        "look_at": now + LOOK_EVERY,
    }


def _kept(rules: ZoneRules) -> cadence.Clocks:
    return cadence.Clocks(
        first=rules.first,
        until=rules.until,
        offset=rules.offset_minutes * MINUTE,
        changes=tuple((EPOCH + when * MINUTE, offset * MINUTE) for when, offset in rules.changes),
    )


CLOCKS = Job("clocks", to_look_at, look)
