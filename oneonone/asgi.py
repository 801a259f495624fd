"""Pages in an ASGI server, on WSGI threads.

The stream to open pages, once it is built, belongs beside them here and not into a view: an asynchronous
Django view would hold a thread, and once it touched the database a connection, for as long as a stream is
open.
"""

import logging
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any, cast

from a2wsgi import WSGIMiddleware
from django.conf import settings

from oneonone.web.log_filters import HidesTokens
from oneonone.wsgi import application as pages_wsgi

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

# uvicorn's access log, where it is on, is written by handlers made before this module is loaded.
for _handler in logging.getLogger("uvicorn.access").handlers:
    _handler.addFilter(HidesTokens())

pages = WSGIMiddleware(cast(Any, pages_wsgi), workers=settings.ENVIRONMENT.threads)


async def application(scope: Scope, receive: Receive, send: Send) -> None:
    """Hand a request to the face that answers it."""
    await pages(cast(Any, scope), cast(Any, receive), cast(Any, send))
