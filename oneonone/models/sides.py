"""The two sides of a line. A side belongs to one line; it is not a role of a person."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class Side(models.TextChoices):
    MANAGER = "manager", _("manager")
    REPORT = "report", _("report")

    @property
    def other(self) -> Side:
        return Side.REPORT if self is Side.MANAGER else Side.MANAGER
