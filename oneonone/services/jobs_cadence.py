"""The reminder that a line's interval runs out or is over: once for each time that it does."""

from __future__ import annotations

import datetime as dt

from django.db.models import Exists, OuterRef, QuerySet

from oneonone import cadence
from oneonone.models import Interval, Line, Meeting, Notice
from oneonone.models.owed import StandingLook
from oneonone.models.people import with_people
from oneonone.selectors import standing
from oneonone.selectors.standing import Standing
from oneonone.services import notices
from oneonone.services.jobs_queue import Job

RUNS_OUT, OVER = "runs out", "over"


def to_look_at(now: dt.datetime) -> QuerySet[Line]:
    """Open lines whose standing has not been looked at today, by their own calendar."""
    looked = StandingLook.objects.filter(line=OuterRef("pk"), again_at__gt=now)
    lines = (
        Line.objects.open()
        .exclude(start=Line.Start.ALONE)
        .filter(~Exists(looked), Exists(Interval.objects.filter(line=OuterRef("pk"))))
        .order_by("created_at", "id")
    )
    return with_people(lines, "manager", "report")


def look(line: Line, now: dt.datetime) -> None:
    """Look at a line's standing, owe both sides a reminder if it calls for one, and look again tomorrow."""
    seen = standing.of_line(line, now=now)
    tomorrow = cadence.start_instant(seen.today + dt.timedelta(days=1), dt.time(0), seen.zone)
    StandingLook.objects.update_or_create(line=line, defaults={"again_at": tomorrow})
    spell = spell_of(seen)
    # What is under way is most likely held; if it turns out otherwise, tomorrow's look says so.
    under_way = line.meetings.filter(state=Meeting.State.UNDER_WAY, given_up_at__isnull=True)
    if spell is None or under_way.exists():
        return
    for person in (line.manager, line.report):
        if person is not None:
            notices.owe(
                kind=Notice.Kind.CADENCE, person=person, subject=line.pk, occurrence=spell, line=line, now=now
            )


def spell_of(seen: Standing) -> str | None:
    """The key of what is to be said about a standing now, or None: what it is, and the day the interval ends.

    An interval that is over is always said. One that runs out is said only if no meeting is planned from
    today up to its last day: where one is, the plan is the answer. Before the first meeting the interval
    counts from the line's beginning.
    """
    if seen.due is None or seen.kind in ("paused", "within"):
        return None
    if seen.kind == RUNS_OUT:
        answered = seen.coming is not None and seen.today <= seen.coming <= seen.due
        return None if answered else f"{RUNS_OUT} {seen.due.isoformat()}"
    return f"{OVER} {seen.due.isoformat()}" if seen.today > seen.due else None


CADENCE = Job("cadence", to_look_at, look)
