"""Links that leave the page: they start with the address the server is known by, never with a request's."""

from __future__ import annotations

from django.conf import settings


def absolute(path: str) -> str:
    """The full address of a path of ours. The host of a request may be forged; the setting may not."""
    return f"{settings.BASE_URL.rstrip('/')}{path}"
