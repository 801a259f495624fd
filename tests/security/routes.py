"""Every address that the server has, read off the URLconf itself, includes and the demo's own among them."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.urls import URLPattern, URLResolver, get_resolver

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")
DEMO_URLS = "oneonone.web.demo.urls"


@dataclass(frozen=True)
class Route:
    """One pattern: its name, the ids in its path, and the view behind it."""

    name: str
    kwargs: tuple[str, ...]
    pattern: str
    view: Callable[..., Any]

    @property
    def key(self) -> str:
        """The name with the ids, since two patterns may share a name."""
        return " ".join((self.name, *self.kwargs))

    @property
    def ours(self) -> bool:
        return self.view.__module__.startswith(("oneonone.", "accounts."))


def walk(
    patterns: Sequence[URLPattern | URLResolver],
    path: str = "",
    space: str = "",
    above: tuple[str, ...] = (),
) -> Iterator[Route]:
    """All routes below these patterns; ids in the path of an include belong to each route in it."""
    for pattern in patterns:
        here, kwargs = path + str(pattern.pattern), (*above, *pattern.pattern.converters)
        if isinstance(pattern, URLResolver):
            inner = f"{space}{pattern.namespace}:" if pattern.namespace else space
            yield from walk(pattern.url_patterns, here, inner, kwargs)
        else:
            yield Route(f"{space}{pattern.name or ''}", kwargs, here, pattern.callback)


def of_the_server() -> list[Route]:
    """The routes of a real server."""
    return list(walk(get_resolver().url_patterns))


def of_the_demo() -> list[Route]:
    """The routes that only the demo has; none where they are among the server's already."""
    if settings.DEMO:
        return []
    return list(walk(importlib.import_module(DEMO_URLS).urlpatterns))
