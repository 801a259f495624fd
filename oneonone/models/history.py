"""How long topics take on the whole server, used for lines with little history of their own."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from .agenda import Topic
from .base import SYSTEM, Row


class KindFactor(Row):
    """The mean ratio of minutes taken to minutes asked for a kind of topic, over ``lines`` lines.

    A row needs at least ten lines and does not say which. ``hundredths`` is rounded to twentieths, so that a
    single line seldom changes it.
    """

    privacy: ClassVar[str] = SYSTEM

    kind = models.CharField(max_length=12, choices=Topic.Kind, unique=True)
    hundredths = models.PositiveSmallIntegerField()
    lines = models.PositiveIntegerField()
    counted_at = models.DateTimeField()

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=Q(lines__gte=10), name="kind_factor_of_ten_lines_or_more"),
            models.CheckConstraint(
                condition=Q(hundredths__gte=50, hundredths__lte=250),
                name="kind_factor_half_to_two_and_a_half",
            ),
        ]
