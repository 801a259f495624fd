"""The session store. A copy of the database does not allow using a session.

A row has a hash of the session's key, and what is kept in the session is sealed under the key-encryption key:
codes that were mailed, forms held back while somebody shows who they are, links to hand over.
"""

from __future__ import annotations

import json
import logging
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.base import CreateError, SessionBase, UpdateError
from django.db import IntegrityError, transaction
from django.utils import timezone

from accounts.models import Session
from accounts.models.session import hash_of_key
from oneonone.selectors.people import sessions
from oneonone.selectors.private.keys import CannotOpen
from oneonone.services.private import keys

log = logging.getLogger(__name__)


class SessionStore(SessionBase):
    """Django's interface to sessions, over our rows. ``session_key`` is the browser's key, never stored."""

    def exists(self, session_key: str) -> bool:
        return Session.objects.filter(pk=hash_of_key(session_key)).exists()

    def load(self) -> dict[str, Any]:
        key = self.session_key
        row = Session.objects.open_at(timezone.now()).filter(pk=hash_of_key(key)).first() if key else None
        if row is not None:
            try:
                return sessions.payload(row)
            except CannotOpen as refusal:
                log.warning("a session cannot be opened and is over: %s", refusal.reason)
        # The next save uses a new key.
        self._session_key = None
        return {}

    def create(self) -> None:
        while True:
            self._session_key = self._get_new_session_key()  # type: ignore[attr-defined]
            try:
                self.save(must_create=True)
            except CreateError:
                continue
            self.modified = True
            return

    def save(self, must_create: bool = False) -> None:
        if self.session_key is None:
            self.create()
            return
        held = self._get_session(no_load=must_create)  # type: ignore[attr-defined]
        if self.session_key is None:
            # It was over by the time it was looked at.
            raise UpdateError
        key_hash = hash_of_key(self.session_key)
        columns = {
            "payload": keys.lock(sessions.purpose(key_hash), json.dumps(held, separators=(",", ":"))),
            "person_id": held.get(SESSION_KEY),
            "expires_at": self.get_expiry_date(),
        }
        if must_create:
            try:
                with transaction.atomic():
                    Session.objects.create(key_hash=key_hash, **columns)
            except IntegrityError:
                raise CreateError from None
        elif not Session.objects.filter(pk=key_hash).update(**columns):
            raise UpdateError

    def delete(self, session_key: str | None = None) -> None:
        key = session_key or self.session_key
        if key is not None:
            Session.objects.filter(pk=hash_of_key(key)).delete()

    @classmethod
    def clear_expired(cls) -> None:
        Session.objects.filter(expires_at__lte=timezone.now()).delete()
