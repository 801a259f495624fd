"""Why a topic has its place, in full, and how the order comes about."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from oneonone import access
from oneonone.models import Placement
from oneonone.selectors import agenda, weighing, why
from oneonone.web import going, partial, whywords
from oneonone.web.policy import LINE_SIDE, SIGNED_IN, PersonRequest, view


@view(policy=LINE_SIDE, door=access.placement_for)
def here(request: PersonRequest, placement: Placement) -> HttpResponse:
    """The full account of a topic's place: a page of its own, or the part that opens in the agenda."""
    told = why.of(request.person, placement)
    head = agenda.head(request.person, placement.meeting)
    context = {
        "told": told,
        "answers": whywords.answers(head, told),
        "head": head,
        "back": going.agenda_path(placement.meeting, placement.topic_id),
        "section": "lines",
    }
    return partial.answer(request, "pages/why.html", "pages/parts/why.html", context)


@view(policy=SIGNED_IN)
def rule(request: PersonRequest) -> HttpResponse:
    """How the order comes about: the rule of worth, and what the planner does with it."""
    found = weighing.the_rule()
    context = {
        "rule": found,
        "levels": whywords.level_rows(found),
        "kinds": whywords.kind_rows(found),
        "beta_percent": int(100 * found.beta),
        "most_kept": max(found.ages),
        "most_kept_adds": max(found.ages.values()),
        "section": "lines",
    }
    return render(request, "pages/how_order.html", context)
