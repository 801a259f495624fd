"""Answers for whoever watches the server: is it alive, can it serve, do the jobs run.

Before everything else, because a probe calls the machine by any name, over plain HTTP, without a cookie. The
answers hold nothing but states and seconds.

``/health/live``   200: the process answers. The database is not asked.
``/health/ready``  200, or 503 while there is no database to serve pages from.
``/health/jobs``   200, or 503 while the background jobs have been silent for more than three minutes.
"""

from __future__ import annotations

from collections.abc import Callable

from django.db import Error, connection
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotAllowed, JsonResponse

from oneonone import clock
from oneonone.selectors.notices import background

UNAVAILABLE = 503


class HealthMiddleware:
    """Stands first, and passes every other request on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        answer = ANSWERS.get(request.path_info)
        if answer is None:
            return self.get_response(request)
        if request.method not in ("GET", "HEAD"):
            return HttpResponseNotAllowed(["GET", "HEAD"])
        response = answer()
        response["Cache-Control"] = "no-store"
        return response


def _live() -> HttpResponse:
    return JsonResponse({"alive": True})


def _ready() -> HttpResponse:
    try:
        said = _jobs_said()
    except Error:
        connection.close()
        return JsonResponse({"database": False}, status=UNAVAILABLE)
    return JsonResponse({"database": True, **said})


def _jobs() -> HttpResponse:
    try:
        said = _jobs_said()
    except Error:
        connection.close()
        return JsonResponse({"database": False}, status=UNAVAILABLE)
    return JsonResponse(said, status=UNAVAILABLE if said["jobs_late"] else 200)


def _jobs_said() -> dict[str, object]:
    last, now = background.last_run(), clock.now()
    return {
        "jobs_late": background.is_late(last, now),
        "seconds_since_jobs_ran": None if last is None else round((now - last).total_seconds()),
    }


ANSWERS: dict[str, Callable[[], HttpResponse]] = {
    "/health/live": _live,
    "/health/ready": _ready,
    "/health/jobs": _jobs,
}
