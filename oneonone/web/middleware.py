"""What holds for every request, and for every answer to somebody who is signed in."""

import time
from collections.abc import Callable
from zoneinfo import ZoneInfo

from allauth.account.adapter import get_adapter
from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers

from oneonone.models.rows_of import assert_no_reader
from oneonone.selectors.people import sessions


class NoStoreMiddleware:
    """No cache keeps their pages, a proxy's or the browser's; what is left of them goes as they sign out.

    The latter is ASVS 5.0, 14.3.1; browsers heed it over TLS only.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        before = request.user.is_authenticated
        response = self.get_response(request)
        if before or request.user.is_authenticated:
            add_never_cache_headers(response)
        if before and not request.user.is_authenticated:
            response["Clear-Site-Data"] = '"cache", "storage"'
        return response


class IdleMiddleware:
    """Signs out whoever was not here for ``SESSION_IDLE_SECONDS``, or signed in ``SESSION_COOKIE_AGE`` ago.

    Both are kept in the session from signing in on, by the machine's clock; when somebody was last here, by
    the hour, with the browser and the network address, for the list of one's own sessions. The framework
    alone lets a session begin anew whenever something is kept in it.
    """

    NOTED_EVERY_SECONDS = 3600
    BROWSER_LENGTH = 200

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        now, seen = time.time(), request.session.get(sessions.SEEN_AT)
        if seen is not None:
            signed_in = now - request.session.get(sessions.SIGNED_IN_AT, 0)
            if now - seen > settings.SESSION_IDLE_SECONDS or signed_in > settings.SESSION_COOKIE_AGE:
                logout(request)
            elif now - seen >= self.NOTED_EVERY_SECONDS:
                self._note(request, int(now))
        return self.get_response(request)

    @classmethod
    def begin(cls, request: HttpRequest) -> None:
        """Somebody has just signed in."""
        now = int(time.time())
        request.session[sessions.SIGNED_IN_AT] = now
        cls._note(request, now)

    @classmethod
    def _note(cls, request: HttpRequest, now: int) -> None:
        request.session[sessions.SEEN_AT] = now
        request.session[sessions.BROWSER] = request.META.get("HTTP_USER_AGENT", "")[: cls.BROWSER_LENGTH]
        request.session[sessions.ADDRESS] = get_adapter().get_client_ip(request)


class ZoneMiddleware:
    """Their pages show instants on the clock of their own zone, where no other zone is asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            return self.get_response(request)
        with timezone.override(ZoneInfo(request.user.zone)):
            return self.get_response(request)


class ReaderMiddleware:
    """Refuses to answer over a connection that still names the reader of an earlier request."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        assert_no_reader()
        return self.get_response(request)


class CookieMiddleware:
    """A cookie with NUL in it is none of ours: it is dropped before PostgreSQL, which refuses it, sees it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        for name in [name for name, value in request.COOKIES.items() if "\0" in value]:
            del request.COOKIES[name]
        return self.get_response(request)
