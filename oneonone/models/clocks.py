"""The time zone rules with which instants were computed."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from .base import SYSTEM, Row


class ZoneRules(Row):
    """A zone's offset on ``first`` and its changes before ``until``, as ``cadence.clock_changes`` has them.

    The local time that was agreed is computed back from its instant with these rules. ``changes`` are pairs
    of an instant (minutes since 1970) and the offset from then on (minutes).
    """

    privacy: ClassVar[str] = SYSTEM

    zone = models.CharField(max_length=64, unique=True)
    first = models.DateField()
    until = models.DateField()
    offset_minutes = models.SmallIntegerField()
    changes = models.JSONField()
    look_at = models.DateTimeField(db_index=True)
    version = models.PositiveIntegerField(default=1)
