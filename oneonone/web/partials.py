"""One view for a page and for the part of it that is fetched into another page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers


def is_asked_for(request: HttpRequest) -> bool:
    """Whether a page is open already and only wants the part."""
    return request.headers.get("HX-Request") == "true"


def answer(
    request: HttpRequest, page: str, part: str, context: Mapping[str, Any], *, status: int = 200
) -> HttpResponse:
    """The template ``part`` when a page asks for it, else ``page``, which includes it."""
    wanted = is_asked_for(request)
    response = render(request, part if wanted else page, {**context, "in_place": wanted}, status=status)
    patch_vary_headers(response, ["HX-Request"])
    return response
