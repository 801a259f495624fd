"""Days on which a person is away. No reason is stored."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import ClassVar, Literal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from accounts.models.person import Person


class DayAwayQuerySet(models.QuerySet["DayAway"]):
    """Reads of days away."""

    def visible_to(self, person: Person) -> DayAwayQuerySet:
        """Return the person's own rows. Others see only the resulting meeting dates."""
        return self.filter(person=person)

    def touching(self, first: dt.date, last: dt.date) -> DayAwayQuerySet:
        """Those that share at least one day with the range from ``first`` to ``last``, both included."""
        return self.filter(first__lte=last, last__gte=first)


class DayAway(models.Model):
    """A range of calendar days, both ends included, in the person's own zone."""

    privacy: ClassVar[Literal["shared", "private", "system"]] = "shared"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="days_away")
    first = models.DateField(_("first day"))
    last = models.DateField(_("last day"))

    objects = DayAwayQuerySet.as_manager()

    class Meta:
        verbose_name = _("days away")
        verbose_name_plural = _("days away")
        ordering = ["first", "last", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="day_away_last_not_before_first",
                violation_error_message=_("The last day is before the first."),
            ),
            models.UniqueConstraint(
                fields=["person", "first", "last"],
                name="day_away_once",
                violation_error_message=_("These days are already entered."),
            ),
        ]

    def __str__(self) -> str:
        """Class and id only."""
        return f"DayAway {self.pk}"

    def __repr__(self) -> str:
        """As ``__str__``."""
        return f"<DayAway {self.pk}>"
