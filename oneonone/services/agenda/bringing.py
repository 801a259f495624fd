"""An entry of the logbook is brought to the next agenda, taken back, or left for one meeting."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db import transaction

from accounts.models import Person
from oneonone.models import Line, LogbookEntry, Meeting, Placement, Topic
from oneonone.services.agenda import topics
from oneonone.services.agenda.topics import Wording
from oneonone.services.private import logbook
from oneonone.services.refusals import NotNow


@transaction.atomic
def bring(
    *,
    entry: LogbookEntry,
    line: Line,
    wording: Wording,
    actor: Person,
    now: dt.datetime,
    today: dt.date,
    client_key: UUID | None = None,
) -> Topic:
    """Make a shared topic of what ``wording`` says; the rest of the entry stays sealed.

    The same key again gives the same topic. Refused as in ``topics.add``, and while the entry is on an agenda
    of this line already.
    """
    content = logbook.content_of(entry=entry, actor=actor)
    asked = [one.topic_id for one in content.brought if one.topic_id is not None]
    topic = topics.add(line=line, wording=wording, actor=actor, now=now, client_key=client_key)
    if topic.pk in asked:
        return topic
    waiting = Topic.objects.filter(pk__in=asked, line=line, state__in=(Topic.State.OPEN, Topic.State.PARKED))
    if waiting.exists():
        raise NotNow
    placement = topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).first()
    logbook.note_brought(
        entry=entry,
        meeting_id=placement.meeting_id if placement is not None else None,
        topic_id=topic.pk,
        actor=actor,
        now=now,
        today=today,
    )
    return topic


@transaction.atomic
def take_back(*, entry: LogbookEntry, actor: Person, now: dt.datetime) -> Topic:
    """Withdraw the topic that was made of the entry. Refused once its order is issued."""
    content = logbook.content_of(entry=entry, actor=actor)
    topic_id = next((one.topic_id for one in reversed(content.brought) if one.topic_id is not None), None)
    topic = Topic.objects.filter(pk=topic_id, raiser=actor).first() if topic_id is not None else None
    if topic is None:
        raise NotNow
    placement = topic.placements.filter(outcome=Placement.Outcome.UNDECIDED).select_related("meeting").first()
    if placement is not None and placement.meeting.state != Meeting.State.PLANNED:
        raise NotNow
    return topics.withdraw(topic=topic, actor=actor, now=now)


def leave(
    *, entry: LogbookEntry, meeting: Meeting, actor: Person, now: dt.datetime, today: dt.date
) -> LogbookEntry:
    """Decide that the entry is not brought to this meeting. Only the author knows."""
    return logbook.note_brought(
        entry=entry, meeting_id=meeting.pk, topic_id=None, actor=actor, now=now, today=today
    )
