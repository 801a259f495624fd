"""Busy times from a person's own calendar: start and end times, sealed, one row a week."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q

from accounts.models import Person

from .base import SYSTEM, Row, Sealed


class BusyWeek(Sealed):
    """The busy times of one week, Monday to Sunday in UTC. A week without busy times has a row too.

    So the columns outside the blob reveal that a calendar was read, and little about how full a week is.
    """

    week = models.DateField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["owner", "week"], name="busy_week_once")
        ]


class BusyTimes(Row):
    """When a person's calendar was read and which weeks are stored, without their contents.

    The job that deletes past weeks reads this table, because it may not read private rows. No page of anybody
    but the owner joins it.
    """

    privacy: ClassVar[str] = SYSTEM

    owner = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="+")
    read_on = models.DateField()
    oldest_week = models.DateField(db_index=True)
    latest_week = models.DateField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(
                condition=Q(latest_week__gte=F("oldest_week")), name="busy_times_weeks_in_order"
            )
        ]
