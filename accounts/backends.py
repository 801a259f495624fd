"""Who may sign in: accounts of the demo only in the demo."""

from __future__ import annotations

from allauth.account.auth_backends import AuthenticationBackend
from django.conf import settings
from django.contrib.auth.models import AnonymousUser

from accounts.models import Person


class Backend(AuthenticationBackend):
    """allauth's backend. It refuses demo accounts where the demo is not running, because their password is
    public. Django calls it at each sign-in and, for open sessions, at each request, so a session copied from
    a demo is refused too.
    """

    def user_can_authenticate(self, user: Person | AnonymousUser | None) -> bool:
        """Return whether the account is active and, outside the demo, not a demo account."""
        if isinstance(user, Person) and user.is_demo and not settings.DEMO:
            return False
        return bool(super().user_can_authenticate(user))
