"""A browser that asks the server's own handler, quickly, and keeps what came back and what it cost.

It goes through the whole stack of middleware, as any request does. Unlike Django's client it keeps no copy of
the templates' contexts, and it turns an error inside a page into the answer 500, as a server would.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from django.conf import settings
from django.core.handlers.base import BaseHandler
from django.db import connection
from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.test import RequestFactory
from django.test.client import conditional_content_removal
from django.utils.http import urlencode

FORM = "application/x-www-form-urlencoded"
_requests = RequestFactory()


@functools.cache
def _handler() -> BaseHandler:
    handler = BaseHandler()
    handler.load_middleware()
    return handler


@dataclass(frozen=True)
class Answer:
    """One answer as it went over the wire, and the statements that it cost."""

    status: int
    headers: tuple[tuple[str, str], ...]
    body: bytes
    statements: tuple[str, ...]

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    def header(self, name: str) -> str:
        return next((value for key, value in self.headers if key.lower() == name.lower()), "")

    @property
    def sameness(self) -> tuple[int, tuple[tuple[str, str], ...], bytes, int]:
        """What may not differ between what is hidden and what is missing: all but the time of day."""
        kept = tuple(sorted(pair for pair in self.headers if pair[0].lower() not in ("date", "expires")))
        return self.status, kept, self.body, len(self.statements)


@dataclass
class Browser:
    """One visitor: the cookies they hold, and what they send with every request."""

    cookies: Mapping[str, str] = field(default_factory=dict)
    checks_csrf: bool = False

    def ask(
        self,
        method: str,
        path: str,
        data: Mapping[str, Any] | None = None,
        *,
        body: bytes | None = None,
        content_type: str = FORM,
        **environ: Any,
    ) -> Answer:
        """Send one request. ``data`` is a form; for GET and HEAD it is the query."""
        sent = body if body is not None else urlencode(data or {}, doseq=True).encode()
        if method in ("GET", "HEAD") and data:
            path, sent = f"{path}?{urlencode(data, doseq=True)}", b""
        if self.cookies:
            environ["HTTP_COOKIE"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        request = _requests.generic(
            method, path, sent, content_type, HTTP_HOST=environ.pop("HTTP_HOST", "localhost"), **environ
        )
        request._dont_enforce_csrf_checks = not self.checks_csrf  # type: ignore[attr-defined]
        made: list[str] = []
        with counting(made):
            response = _handler().get_response(request)
        conditional_content_removal(request, response)
        answer = Answer(response.status_code, _headers(response), _body(response), tuple(made))
        response.close()
        return answer


@contextmanager
def counting(made: list[str]) -> Iterator[None]:
    """Note every statement, but those that begin and end savepoints."""

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        made.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield


def _headers(response: HttpResponseBase) -> tuple[tuple[str, str], ...]:
    cookies = tuple(("Set-Cookie", morsel.OutputString()) for morsel in response.cookies.values())
    return tuple(response.items()) + cookies


def _body(response: HttpResponseBase) -> bytes:
    if isinstance(response, StreamingHttpResponse):
        return response.getvalue()
    assert isinstance(response, HttpResponse)
    return response.content


def session_cookie(key: str) -> dict[str, str]:
    return {settings.SESSION_COOKIE_NAME: key}
