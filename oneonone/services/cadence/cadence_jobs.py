"""The reminder that a line's interval runs out or is over: once for each time that it does."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from uuid import UUID

from django.db.models import QuerySet

from oneonone import cadence
from oneonone.models import Line, Meeting, Notice
from oneonone.models.people import with_people
from oneonone.selectors.cadence import standing
from oneonone.selectors.cadence.standing import Standing
from oneonone.services.notices import notices
from oneonone.services.notices.job_queue import Job

RUNS_OUT, OVER = "runs out", "over"


def to_look_at(now: dt.datetime) -> QuerySet[Line]:
    """Open lines whose standing has not been looked at today, by their own calendar."""
    lines = (
        Line.objects.open()
        .filter(start__in=(Line.Start.JOINED, Line.Start.INVITED), standing_at__lte=now)
        .order_by("standing_at", "id")
    )
    return with_people(lines, "manager", "report")


def look(line: Line, now: dt.datetime) -> None:
    """Look at a line's standing, owe both sides a reminder if it calls for one, and look again tomorrow."""
    look_at_all([line], now)


def look_at_all(lines: Sequence[Line], now: dt.datetime) -> None:
    """The same for many lines: six statements for as many as begin the day in one zone, and one a zone."""
    seen = standing.of_lines(lines, now=now)
    # What is under way is most likely held; if it turns out otherwise, tomorrow's look says so.
    under_way = set(
        Meeting.objects.filter(line__in=lines, state=Meeting.State.UNDER_WAY, given_up_at__isnull=True)
        .order_by()
        .values_list("line", flat=True)
    )
    again: defaultdict[dt.datetime, list[UUID]] = defaultdict(list)
    owed: list[Notice] = []
    for line in lines:
        own = seen[line.pk]
        tomorrow = cadence.start_instant(own.today + dt.timedelta(days=1), dt.time(0), own.zone)
        again[tomorrow].append(line.pk)
        if line.pk not in under_way and (spell := spell_of(own)) is not None:
            owed += [
                Notice(
                    kind=Notice.Kind.CADENCE,
                    person=person,
                    subject=line.pk,
                    occurrence=spell,
                    line=line,
                    owed_at=now,
                )
                for person in (line.manager, line.report)
                if person is not None
            ]
    for at, ids in again.items():
        Line.objects.filter(pk__in=ids).update(standing_at=at)
    notices.owe_all(owed)


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


CADENCE = Job("cadence", to_look_at, look, look_at_all)
