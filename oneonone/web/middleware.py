"""What holds for every request, and for every answer to somebody who is signed in."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import add_never_cache_headers


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


class ZoneMiddleware:
    """Their pages show instants on the clock of their own zone, where no other zone is asked for."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            return self.get_response(request)
        with timezone.override(ZoneInfo(request.user.zone)):
            return self.get_response(request)


class CookieMiddleware:
    """A cookie with NUL in it is none of ours: it is dropped before PostgreSQL, which refuses it, sees it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        for name in [name for name, value in request.COOKIES.items() if "\0" in value]:
            del request.COOKIES[name]
        return self.get_response(request)
