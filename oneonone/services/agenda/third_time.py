"""The third time a topic is unheard in a meeting that was held, both sides are asked whether to drop it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from uuid import UUID

from django.db import transaction
from django.db.models import Count, Q

from accounts.models import Person
from oneonone.models import Meeting, Notice, Placement, Topic
from oneonone.models.people import with_people
from oneonone.services.notices import notices
from oneonone.services.refusals import NotNow

from . import topics

TIMES = 3


def ask(*, meetings: Collection[UUID], now: dt.datetime) -> int:
    """Ask about the topics that these held meetings left unheard for the third time; how many those are.

    Each topic is asked about once. A meeting called off or not held counts for nothing.
    """
    unheard = Q(
        placements__outcome=Placement.Outcome.UNHEARD, placements__meeting__state=Meeting.State.CLOSED
    )
    unheard_here = Placement.objects.filter(meeting__in=meetings, outcome=Placement.Outcome.UNHEARD)
    here = list(unheard_here.values_list("topic", flat=True))
    if not here:
        return 0
    topics = (
        Topic.objects.filter(pk__in=here, state=Topic.State.OPEN)
        .annotate(times=Count("placements", filter=unheard))
        .filter(times__gte=TIMES)
    )
    asked = list(with_people(topics, "line__manager", "line__report"))
    notices.owe_all(
        [
            Notice(kind=Notice.Kind.THIRD_TIME, person=person, subject=topic.pk, line=topic.line, owed_at=now)
            for topic in asked
            for person in (topic.line.manager, topic.line.report)
            if person is not None
        ]
    )
    return len(asked)


@transaction.atomic
def answer(*, topic: Topic, drop: bool, actor: Person, now: dt.datetime) -> Topic:
    """One side's answer. Kept, it goes on; dropped, its raiser withdraws it and the other side parks it.

    Nobody takes back what the other has raised: parked, its raiser can ask time for it again. Refused: when
    it was not asked or is answered already, and for a topic that is being discussed or that the other side
    must discuss.
    """
    answered = Notice.objects.filter(
        kind=Notice.Kind.THIRD_TIME, person=actor, subject=topic.pk, read_at__isnull=True
    ).update(read_at=now)
    if not answered:
        raise NotNow
    if not drop:
        return topic
    if topic.raiser_id == actor.pk:
        return topics.withdraw(topic=topic, actor=actor, now=now)
    return topics.park(topic=topic, actor=actor, now=now)
