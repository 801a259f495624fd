"""An invitation: a single-use token, stored as a hash, bound to one address."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import ClassVar, Literal

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower, Trim
from django.db.models.lookups import Exact
from django.utils.translation import gettext_lazy as _

from accounts import addresses
from accounts.models.person import NAME_LENGTH, Person


class InvitationQuerySet(models.QuerySet["Invitation"]):
    """Reads of invitations."""

    def visible_to(self, person: Person) -> InvitationQuerySet:
        """Those ``person`` sent, or all of them for an administrator."""
        if person.is_administrator and person.is_active:
            return self.all()
        return self.filter(invited_by=person)

    def open_at(self, now: dt.datetime) -> InvitationQuerySet:
        """Those that can still be accepted at ``now``."""
        return self.filter(accepted_at__isnull=True, revoked_at__isnull=True, expires_at__gt=now)

    def to_address(self, address: str) -> InvitationQuerySet:
        """Those bound to this address, in whatever case it was typed."""
        return self.filter(email=addresses.normalise(address))


class Invitation(models.Model):
    """An invitation of one person. Other rows refer to it and say what the person joins."""

    privacy: ClassVar[Literal["shared", "private", "system"]] = "system"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    email = models.EmailField(_("e-mail address"), max_length=254)
    name = models.CharField(_("name of the person invited"), max_length=NAME_LENGTH)
    token_hash = models.CharField(max_length=64, editable=False)
    invited_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="invitations_sent"
    )
    created_at = models.DateTimeField(_("made"))
    expires_at = models.DateTimeField(_("valid until"))
    accepted_at = models.DateTimeField(_("accepted"), null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="invitations_accepted",
    )
    revoked_at = models.DateTimeField(_("withdrawn"), null=True, blank=True)

    objects = InvitationQuerySet.as_manager()

    class Meta:
        verbose_name = _("invitation")
        verbose_name_plural = _("invitations")
        ordering = ["-created_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Exact(Lower(Trim("email")), F("email")), name="invitation_email_normal"
            ),
            models.UniqueConstraint(fields=["token_hash"], name="invitation_token_unique"),
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("created_at")), name="invitation_expires_after_made"
            ),
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True, accepted_by__isnull=True)
                | Q(accepted_at__isnull=False, accepted_by__isnull=False),
                name="invitation_accepted_by_somebody",
            ),
            models.CheckConstraint(
                condition=Q(accepted_at__isnull=True) | Q(revoked_at__isnull=True),
                name="invitation_accepted_or_withdrawn",
            ),
        ]

    def __str__(self) -> str:
        """Class and id only."""
        return f"Invitation {self.pk}"

    def __repr__(self) -> str:
        """As ``__str__``."""
        return f"<Invitation {self.pk}>"

    def is_open(self, now: dt.datetime) -> bool:
        """Whether it can still be accepted at ``now``."""
        return self.accepted_at is None and self.revoked_at is None and now < self.expires_at
