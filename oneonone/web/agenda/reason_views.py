"""Why a topic has its place, and how the order of an agenda comes about."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from oneonone import access
from oneonone.models import Meeting, Placement
from oneonone.selectors.agenda import account, agenda_page
from oneonone.web import partials, redirects
from oneonone.web.agenda.wording import account_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.placement_for)
def here(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Why a topic has its place, or none: a page of its own, or the part that opens in the agenda."""
    told = account.of(request.person, placement)
    head = agenda_page.head(request.person, placement.meeting)
    context = {
        "told": told,
        "answer": account_wording.answer(head, told),
        "head": head,
        "meeting": placement.meeting,
        "back": redirects.agenda_path(placement.meeting, placement.topic_id),
        "section": "lines",
    }
    return partials.answer(request, "agenda/why.html", "agenda/parts/why.html", context)


@view(policy=LINE_SIDE, door=access.meeting_for)
def rule(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """How the order comes about: the rule in two sentences, and what it makes of this agenda."""
    head = agenda_page.head(request.person, meeting)
    context = {
        "rows": account_wording.example(head, account.example(request.person, meeting)),
        "weights": account_wording.rule_rows(),
        "base": account.base_worth(),
        "head": head,
        "meeting": meeting,
        "back": redirects.agenda_path(meeting),
        "section": "lines",
    }
    return render(request, "agenda/how_order.html", context)
