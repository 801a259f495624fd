"""What was sent with a request."""

from __future__ import annotations

from django.http import HttpRequest, QueryDict


def form_data(request: HttpRequest) -> QueryDict | None:
    """The data of a form that was sent, even an empty one; None when a page is only looked at."""
    return request.POST if request.method == "POST" else None
