"""Where an act leads to: back to the page it was done from, and never off the server."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from oneonone.models import Line, Meeting
from oneonone.selectors import coming


def back(request: HttpRequest, otherwise: str) -> HttpResponseRedirect:
    """To the path in the field ``next`` when it is one of ours, else to ``otherwise``."""
    return redirect(back_path(request, otherwise))


def back_path(request: HttpRequest, otherwise: str) -> str:
    """The same as a path. A whole address, even one of ours, is not taken: the host may be forged.

    Where both are one page and only ``otherwise`` names a place on it, that place is gone to.
    """
    asked = request.POST.get("next") or request.GET.get("next") or ""
    if asked and otherwise.startswith(f"{asked}#"):
        return otherwise
    ours = asked.startswith("/") and url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if ours else otherwise


def back_at(request: HttpRequest, topic_id: UUID, otherwise: str) -> HttpResponseRedirect:
    """As ``back``, to the topic on that page, unless the path names a place on it already."""
    path = back_path(request, otherwise)
    return redirect(path if "#" in path else f"{path}#topic-{topic_id}")


def order_path(meeting: Meeting) -> str:
    """The page of a meeting, at its order."""
    return f"{agenda_path(meeting)}#order"


def agenda_path(meeting: Meeting, topic_id: UUID | None = None) -> str:
    """The page of a meeting, at one of its topics."""
    page = reverse("meeting", args=[meeting.pk])
    return f"{page}#topic-{topic_id}" if topic_id else page


def line_path(line: Line, topic_id: UUID | None = None) -> str:
    """The agenda that the line is getting ready for, or the line's page when nothing is coming."""
    meeting = coming.earliest(line) if line.is_open else None
    return agenda_path(meeting, topic_id) if meeting else reverse("line", args=[line.pk])
