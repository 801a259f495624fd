"""Topics of a line not reached three times, nor since, of which the reader has not said what to do."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Exists, OuterRef, Subquery
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Line, Notice, Placement, Topic
from oneonone.selectors.notices.notices import HEARD


@dataclass(frozen=True)
class Asked:
    """One topic that the reader is asked about. Its raiser can withdraw it, the other side can park it."""

    topic_id: UUID
    title: str
    is_yours: bool


def asked(reader: Person, line: Line, *, now: dt.datetime) -> tuple[Asked, ...]:
    """What the reader is asked about, oldest first; LookupError for who is no side. One query."""
    line.side_for(reader)
    question = Notice.objects.filter(
        person=reader,
        line=line,
        kind=Notice.Kind.THIRD_TIME,
        subject=OuterRef("pk"),
        owed_at__lte=now,
        read_at__isnull=True,
        cancelled_at__isnull=True,
    )
    heard_since = Placement.objects.filter(
        topic=OuterRef("pk"), outcome__in=HEARD, meeting__closed_at__gt=OuterRef("asked_at")
    )
    rows = (
        Topic.objects.filter(line=line, state=Topic.State.OPEN)
        .annotate(asked_at=Subquery(question.values("owed_at")[:1]))
        .filter(~Exists(heard_since), asked_at__isnull=False)
    )
    return tuple(
        Asked(row.pk, row.title or _("(words removed)"), row.raiser_id == reader.pk)
        for row in rows.order_by("created_at", "id")
    )
