"""When somebody is busy, from their own calendar: begins and ends, sealed, a row for each week."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import F, Q

from accounts.models import Person

from .base import SYSTEM, Row, Sealed


class BusyWeek(Sealed):
    """The busy times of one week, Monday to Sunday in UTC. A week without any has a row too.

    So what stands outside the blob says that a calendar was read, and little of how full a week is.
    """

    week = models.DateField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["owner", "week"], name="busy_week_once")
        ]


class BusyTimes(Row):
    """That a person's calendar was read, and which weeks are kept, apart from what they hold.

    The job that deletes weeks that have passed may not read private rows. It is the owner's alone: no page of
    anybody else joins it.
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
