"""Pages and stream in one server: pages run on WSGI threads, streams on the loop.

An asynchronous Django view would hold a thread, and once it touched the database a connection, for as long as
a stream is open; so the stream is a small application beside Django, and it does its own checks.
"""

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any, cast

from a2wsgi import WSGIMiddleware
from django.conf import settings

from oneonone.wsgi import application as pages_wsgi

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

pages = WSGIMiddleware(cast(Any, pages_wsgi), workers=settings.ENVIRONMENT.threads)


async def application(scope: Scope, receive: Receive, send: Send) -> None:
    """Hand a request to the face that answers it."""
    await pages(cast(Any, scope), cast(Any, receive), cast(Any, send))
