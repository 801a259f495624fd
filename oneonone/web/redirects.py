"""Redirects after an act: back to the page it came from, and only to paths of this server."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from oneonone.models import Line, Meeting
from oneonone.selectors.dates import coming_meetings


def back(request: HttpRequest, otherwise: str) -> HttpResponseRedirect:
    """Redirect to the path in the field ``next`` if it is a path of this server, else to ``otherwise``."""
    return redirect(back_path(request, otherwise))


def back_path(request: HttpRequest, otherwise: str) -> str:
    """The path that ``back`` redirects to. A full URL is refused, because its host may be forged.

    If both paths are the same page and only ``otherwise`` has a fragment, the fragment is used.
    """
    asked = request.POST.get("next") or request.GET.get("next") or ""
    if asked and otherwise.startswith(f"{asked}#"):
        return otherwise
    ours = asked.startswith("/") and url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if ours else otherwise


def back_at(request: HttpRequest, topic_id: UUID, otherwise: str) -> HttpResponseRedirect:
    """As ``back``, with the topic as the fragment, unless the path has a fragment already."""
    path = back_path(request, otherwise)
    return redirect(path if "#" in path else f"{path}#topic-{topic_id}")


def order_path(meeting: Meeting) -> str:
    """The page of a meeting, scrolled to its order."""
    return f"{agenda_path(meeting)}#order"


def agenda_path(meeting: Meeting, topic_id: UUID | None = None) -> str:
    """The page of a meeting, scrolled to one of its topics if one is named."""
    page = reverse("meeting", args=[meeting.pk])
    return f"{page}#topic-{topic_id}" if topic_id else page


def line_path(line: Line, topic_id: UUID | None = None) -> str:
    """The agenda of the line's coming meeting, or the line's page if there is none."""
    meeting = coming_meetings.earliest(line) if line.is_open else None
    return agenda_path(meeting, topic_id) if meeting else reverse("line", args=[line.pk])
