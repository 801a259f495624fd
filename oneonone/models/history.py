"""How topics run on the whole server, so that a line with little history has something to go by."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.db.models import Q

from .agenda import Topic
from .base import SYSTEM, Row


class KindFactor(Row):
    """How many times over the minutes asked topics of a kind run: the mean over ``lines`` lines.

    No row is kept that fewer than ten lines stand behind, and none says which they are. ``hundredths`` are
    whole twentieths, so that one line more or less seldom shows.
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
