"""Who may sign in: accounts of the demo only in the demo."""

from __future__ import annotations

from allauth.account.auth_backends import AuthenticationBackend
from django.conf import settings
from django.contrib.auth.models import AnonymousUser

from accounts.models import Person


class Backend(AuthenticationBackend):
    """allauth's backend, which also shuts out demo accounts wherever the demo is not running.

    Everybody knows their password. It is asked at each sign-in and, for sessions that are open, at each
    request, so that a session taken along from a demo opens nothing either.
    """

    def user_can_authenticate(self, user: Person | AnonymousUser | None) -> bool:
        """Whether the account is switched on, and no demo account outside the demo."""
        if isinstance(user, Person) and user.is_demo and not settings.DEMO:
            return False
        return bool(super().user_can_authenticate(user))
