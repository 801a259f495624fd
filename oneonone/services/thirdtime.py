"""The third time a topic is unheard in a meeting that was held, both sides are asked whether to drop it."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, Q

from oneonone.models import Meeting, Notice, Placement, Topic
from oneonone.services import notices

TIMES = 3


def ask(*, meeting: Meeting, now: dt.datetime) -> int:
    """Ask about the topics that this held meeting left unheard for the third time; how many those are.

    Each topic is asked about once. A meeting called off or not held counts for nothing.
    """
    unheard = Q(
        placements__outcome=Placement.Outcome.UNHEARD, placements__meeting__state=Meeting.State.CLOSED
    )
    here = Placement.objects.filter(meeting=meeting, outcome=Placement.Outcome.UNHEARD).values("topic")
    topics = (
        Topic.objects.filter(pk__in=here, state=Topic.State.OPEN)
        .annotate(times=Count("placements", filter=unheard))
        .filter(times__gte=TIMES)
        .select_related("line__manager", "line__report")
    )
    count = 0
    for topic in topics:
        count += 1
        for person in (topic.line.manager, topic.line.report):
            if person is not None:
                notices.owe(
                    kind=Notice.Kind.THIRD_TIME, person=person, subject=topic.pk, line=topic.line, now=now
                )
    return count
