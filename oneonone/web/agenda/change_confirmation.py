"""Acts on an order that show first what they would make of it: the page that asks, and what is said after."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render

from accounts.refusals import Refusal
from oneonone.models import Meeting
from oneonone.selectors.agenda import agenda_page as agendas
from oneonone.services.agenda import change_preview
from oneonone.web import redirects, stale_edits
from oneonone.web.agenda import rail
from oneonone.web.agenda.wording import change_wording, reason_wording
from oneonone.web.meetings import heading_wording
from oneonone.web.policy import PersonRequest

TAKEN, AGAIN = "taken", "again"
UNSENT = frozenset({"csrfmiddlewaretoken", TAKEN, AGAIN})


@dataclass(frozen=True)
class Question:
    """How an act is asked about. ``key`` is the topic's in the order; ``back`` the page of it.

    ``said`` is what stands before the sentences about the order once it is done, and ``typed`` whether there
    is a form to go back to with what was typed.
    """

    title: str
    key: str
    back: str
    said: str = ""
    typed: bool = False


def costs(change: change_preview.OrderChange) -> bool:
    """Worth asking about when it pushes something out, shortens something, or needs the other side."""
    return change.costs


def changes(change: change_preview.OrderChange) -> bool:
    """Worth asking about when any topic gets other minutes, comes or goes."""
    return not change.is_none


def answer(
    request: PersonRequest,
    meeting: Meeting,
    act: change_preview.Act,
    question: Question,
    *,
    ask_about: Callable[[change_preview.OrderChange], bool],
) -> HttpResponse:
    """Do the act and say what it did, or show what it would do. Refusals of the act are the caller's.

    412 when a yes was sent to an order that the act no longer makes: the new one is shown.
    """
    yes = request.POST.get(TAKEN, "")
    tried = change_preview.attempt(
        meeting=meeting, act=act, actor=request.person, taken=yes, ask_about=ask_about
    )
    if tried.kept:
        told = change_wording.sentences(meeting, tried.change, tried.titles, question.key)
        messages.success(request, " ".join([question.said, *told]).strip())
        return redirect(redirects.back_path(request, question.back))
    return render(
        request,
        "agenda/order_change.html",
        _shown(request, meeting, tried, question) | {"late": bool(yes)},
        status=stale_edits.STATUS if yes else 200,
    )


def answer_or_say(
    request: PersonRequest,
    meeting: Meeting,
    act: change_preview.Act,
    question: Question,
    *,
    ask_about: Callable[[change_preview.OrderChange], bool],
) -> HttpResponse:
    """As ``answer``, for acts that have no form of their own: a refusal is said on the page it came from."""
    try:
        return answer(request, meeting, act, question, ask_about=ask_about)
    except Refusal as refusal:
        messages.error(request, str(refusal))
        return redirects.back(request, question.back)


def _shown(
    request: PersonRequest, meeting: Meeting, tried: change_preview.PreviewedAct, question: Question
) -> dict[str, object]:
    head, order, clock = agendas.head(request.person, meeting), tried.order, reason_wording.clock_of(meeting)
    if order is None:
        raise ValueError("an act that was not kept has an order")
    return {
        "question": question,
        "head": head,
        "meeting": meeting,
        "eyebrow": heading_wording.title(head, now=request.now),
        "told": change_wording.sentences(meeting, tried.change, tried.titles, question.key),
        "asks": tried.change.asks,
        "token": tried.change.token,
        "sent": [
            (name, value) for name, values in request.POST.lists() if name not in UNSENT for value in values
        ],
        "here": request.path,
        "back": redirects.back_path(request, question.back),
        "order": order,
        "rows": rail.rows(head, order, mark=change_wording.mark),
        "kept": rail.kept_rows(head, order),
        "short": reason_wording.sentence(order.short, clock) if order.short else "",
        "ways_out": [reason_wording.sentence(way, clock) for way in order.ways_out],
        "section": "lines",
    }
