"""The organisation that runs the server: its name, closing days and contacts."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import NAME, SYSTEM, WORDS, Row, limit


class Organisation(Row):
    """The settings of the server, in a single row. The organisation's name is shown on every page."""

    class SecondFactorFor(models.TextChoices):
        NOBODY = "nobody", _("not required")
        ADMINISTRATORS = "administrators", _("required for administrators")
        EVERYBODY = "everybody", _("required for everybody")

    privacy: ClassVar[str] = SYSTEM

    name = models.CharField(max_length=NAME)
    is_demo = models.BooleanField(default=False)
    only = models.BooleanField(default=True, editable=False, unique=True)
    created_at = models.DateTimeField()
    second_factor_for = models.CharField(
        max_length=14, choices=SecondFactorFor, default=SecondFactorFor.NOBODY
    )
    lead_needs_confirmed_lines = models.BooleanField(default=True)
    contacts_text = models.TextField(blank=True, default="")
    contacts_confirmed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.CheckConstraint(condition=models.Q(only=True), name="organisation_is_one_row"),
            limit("contacts_text", WORDS, table="organisation"),
        ]


class ClosingDay(Row):
    """A day on which the whole organisation is closed, in addition to public holidays."""

    privacy: ClassVar[str] = SYSTEM

    day = models.DateField(unique=True)


class Contact(Row):
    """A contact outside the reporting line."""

    privacy: ClassVar[str] = SYSTEM

    class Kind(models.TextChoices):
        PEOPLE = "people", "People team"
        SAFETY = "safety", "Safety"
        CONDUCT = "conduct", "Harassment and discrimination"
        WRONGDOING = "wrongdoing", "Wrongdoing"
        HEALTH = "health", "Occupational health"
        REPRESENTATIVE = "representative", "Staff representative or union"
        SUPPORT = "support", "Confidential support"
        CRISIS = "crisis", "Crisis line"

    kind = models.CharField(max_length=16, choices=Kind)
    name = models.CharField(max_length=NAME)
    how = models.CharField(max_length=300)

    class Meta:
        ordering: ClassVar[list[str]] = ["kind", "name", "id"]
        constraints: ClassVar[list[Any]] = [
            limit("name", NAME, table="contact"),
            limit("how", 300, table="contact"),
        ]


class LegalHold(Row):
    """A legal hold: the person cannot be erased while it is open. No reason is stored."""

    privacy: ClassVar[str] = SYSTEM

    person = models.ForeignKey("accounts.Person", on_delete=models.PROTECT, related_name="+")
    since = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True, blank=True)
    placed_by = models.ForeignKey("accounts.Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(
                fields=["person"], condition=models.Q(lifted_at__isnull=True), name="legal_hold_one_open"
            )
        ]
