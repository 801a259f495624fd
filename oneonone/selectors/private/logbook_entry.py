"""What one entry of a logbook holds: kind, line, day of the event, and what is said beyond the line.

The entry is stored as one sealed blob; this module is the only place that reads or makes its payload.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final
from uuid import UUID

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from oneonone.models import LogbookEntry

DETAIL: Final = "detail"
# The prompts of each kind, in the order of the form: after-action and situation-task-action-result formats
# (reference: UK Ministry of Justice hints sheet; common practice for the rest). Only the line is required.
ACHIEVEMENT_PROMPTS: Final[dict[str, Promise]] = {
    "changed": _("What changed"),
    "needed": _("What was needed, and why"),
    "did": _("What I did"),
    "others": _("Who else contributed"),
    "evidence": _("Evidence (a link)"),
    "worth": _("What it was worth"),
    "learned": _("What I learned"),
}
OBSTACLE_PROMPTS: Final[dict[str, Promise]] = {
    "intended": _("What was intended"),
    "happening": _("What is happening instead"),
    "in_the_way": _("What is in the way"),
    "tried": _("What I have tried"),
    "if_nothing_changes": _("What happens if nothing changes"),
    "options": _("Options I see"),
    "solved": _("Solved?"),
    "wanted": _("What I want from the other side"),
    "can_wait": _("Can it wait until the one-on-one?"),
}
OTHER_PROMPTS: Final[dict[str, Promise]] = {DETAIL: _("Detail")}
PROMPTS: Final[dict[str, dict[str, Promise]]] = {
    LogbookEntry.Kind.ACHIEVEMENT: ACHIEVEMENT_PROMPTS,
    LogbookEntry.Kind.OBSTACLE: OBSTACLE_PROMPTS,
    LogbookEntry.Kind.IDEA: OTHER_PROMPTS,
    LogbookEntry.Kind.QUESTION: OTHER_PROMPTS,
    LogbookEntry.Kind.UPDATE: OTHER_PROMPTS,
}


@dataclass(frozen=True)
class Bringing:
    """One time that the entry was brought to an agenda, or left for one meeting.

    ``topic_id`` is the shared topic that was made; None when the author decided to leave the entry that time.
    """

    meeting_id: UUID | None
    topic_id: UUID | None
    on: dt.date


@dataclass(frozen=True)
class EntryContent:
    """The private content of an entry. Left out of its ``repr``, because contexts of templates are logged."""

    kind: str
    line: str = field(repr=False)
    event_on: dt.date
    details: Mapping[str, str] = field(default_factory=dict, repr=False)
    brought: tuple[Bringing, ...] = ()

    def payload(self) -> dict[str, Any]:
        """The JSON object that is sealed."""
        return {
            "words": self.line,
            "kind": str(self.kind),
            "event_on": self.event_on.isoformat(),
            "details": dict(self.details),
            "brought": [
                {
                    "meeting": str(one.meeting_id) if one.meeting_id else None,
                    "topic": str(one.topic_id) if one.topic_id else None,
                    "on": one.on.isoformat(),
                }
                for one in self.brought
            ],
        }


def from_payload(payload: Mapping[str, Any], *, created_on: dt.date) -> EntryContent:
    """The content that ``EntryContent.payload`` made. A missing day of the event is the day of entry."""
    return EntryContent(
        kind=str(payload.get("kind") or LogbookEntry.Kind.UPDATE),
        line=str(payload.get("words", "")),
        event_on=_day(payload.get("event_on")) or created_on,
        details={str(key): str(value) for key, value in dict(payload.get("details") or {}).items()},
        brought=tuple(
            Bringing(
                meeting_id=UUID(one["meeting"]) if one.get("meeting") else None,
                topic_id=UUID(one["topic"]) if one.get("topic") else None,
                on=_day(one.get("on")) or created_on,
            )
            for one in payload.get("brought") or ()
        ),
    )


def _day(text: object) -> dt.date | None:
    return dt.date.fromisoformat(text) if isinstance(text, str) else None
