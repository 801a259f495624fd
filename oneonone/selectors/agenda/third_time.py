"""Topics of a line that were not reached three times, and of which the reader has not said what to do."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone.models import Line, Notice, Topic


@dataclass(frozen=True)
class Asked:
    """One topic that the reader is asked about. Its raiser can withdraw it, the other side can park it."""

    topic_id: UUID
    title: str
    is_yours: bool


def asked(reader: Person, line: Line, *, now: dt.datetime) -> tuple[Asked, ...]:
    """What the reader is asked about, oldest first; LookupError for who is no side. At most two queries."""
    line.side_for(reader)
    subjects = Notice.objects.filter(
        person=reader,
        line=line,
        kind=Notice.Kind.THIRD_TIME,
        owed_at__lte=now,
        read_at__isnull=True,
        cancelled_at__isnull=True,
    ).values_list("subject", flat=True)
    if not (topics := list(subjects)):
        return ()
    rows = Topic.objects.filter(line=line, state=Topic.State.OPEN, pk__in=topics)
    return tuple(
        Asked(row.pk, row.title or _("(words removed)"), row.raiser_id == reader.pk)
        for row in rows.order_by("created_at", "id")
    )
