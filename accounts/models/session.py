"""Browser sessions: the hash of the session key, and the session data, encrypted."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import ClassVar, Literal

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

HASH_LENGTH = 64


def hash_of_key(session_key: str) -> str:
    """Return the stored hash of a session key. A fast hash is enough for 165 random bits."""
    return hashlib.sha256(b"session key " + session_key.encode()).hexdigest()


class SessionQuerySet(models.QuerySet["Session"]):
    """Reads of sessions."""

    def open_at(self, now: dt.datetime) -> SessionQuerySet:
        """Those that have not run out at ``now``, by the machine's clock."""
        return self.filter(expires_at__gt=now)


class Session(models.Model):
    """One browser session. The key itself is only in the browser's cookie.

    ``payload`` is sealed and opened by ``oneonone.web.signing_in.session_store``.
    ``person`` is the signed-in person, so
    that their sessions can be ended without decrypting them.
    """

    privacy: ClassVar[Literal["shared", "private", "system"]] = "system"

    key_hash = models.CharField(max_length=HASH_LENGTH, primary_key=True, editable=False)
    payload = models.TextField(editable=False)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, related_name="+"
    )
    expires_at = models.DateTimeField(_("valid until"), db_index=True)

    objects = SessionQuerySet.as_manager()

    class Meta:
        verbose_name = _("session")
        verbose_name_plural = _("sessions")

    def __str__(self) -> str:
        """Nothing of the key, not even its hash."""
        return "Session"

    def __repr__(self) -> str:
        """As ``__str__``."""
        return "<Session>"
