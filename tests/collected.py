"""Finds joined and hashed static files for the server of browser tests, which asks finders only."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder


class CollectedFinder(BaseFinder):
    """Looks in ``STATIC_ROOT``; it lists nothing, so that nothing is collected twice."""

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        file = Path(settings.STATIC_ROOT) / path
        found = str(file) if file.is_file() else ""
        return [found] if find_all and found else found or []

    def list(self, ignore_patterns: Any) -> Iterator[Any]:
        yield from ()
