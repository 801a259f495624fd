"""The form data of a request."""

from __future__ import annotations

from django.http import HttpRequest, QueryDict


def form_data(request: HttpRequest) -> QueryDict | None:
    """The data of a submitted form, even an empty one; None for a GET."""
    return request.POST if request.method == "POST" else None
