"""Rows that only their owner can read: private notes, logbook entries, preparation."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from .agenda import Topic
from .base import Sealed
from .meetings import Meeting


class MarginNote(Sealed):
    """A person's private note at a topic or a meeting. The unclear mark is inside the blob."""

    topic = models.ForeignKey(Topic, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(topic__isnull=False, meeting__isnull=True)
                | Q(topic__isnull=True, meeting__isnull=False),
                name="margin_note_at_one_thing",
            ),
            models.UniqueConstraint(
                fields=["owner", "topic"], condition=Q(topic__isnull=False), name="margin_note_one_a_topic"
            ),
            models.UniqueConstraint(
                fields=["owner", "meeting"],
                condition=Q(meeting__isnull=False),
                name="margin_note_one_a_meeting",
            ),
        ]


class LogbookEntry(Sealed):
    """One entry of a person's logbook. Kind, day of the event and the bring list are inside the blob."""

    class Kind(models.TextChoices):
        ACHIEVEMENT = "achievement", _("achievement")
        OBSTACLE = "obstacle", _("obstacle")
        IDEA = "idea", _("idea")
        QUESTION = "question", _("question")
        UPDATE = "update", _("update")

    class Solved(models.TextChoices):
        """Whether an obstacle is solved, and by whom."""

        NO = "no", _("not solved")
        BY_ME = "me", _("solved by me")
        BY_OTHERS = "others", _("solved by somebody else")
        WENT_AWAY = "away", _("it went away")

    class Wanted(models.TextChoices):
        """What the author of an obstacle wants from the other side."""

        DECISION = "decision", _("a decision")
        ADVICE = "advice", _("advice")
        ACTION = "action", _("that they do something")
        KNOW = "know", _("only that they know")

    class CanWait(models.TextChoices):
        """Whether an obstacle can wait for the one-on-one."""

        YES = "yes", _("yes, until the one-on-one")
        NO = "no", _("no")


class Preparation(Sealed):
    """What a person has read and ticked for one meeting. The other side cannot see it."""

    meeting = models.ForeignKey(Meeting, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["owner", "meeting"], name="preparation_one_a_meeting")
        ]
