"""A topic's own page: what is said of it, why it is where it is, and everything that can be done with it."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from oneonone import access
from oneonone.models import Placement
from oneonone.selectors.agenda import agenda_page as selector
from oneonone.selectors.agenda.topic_cards import TopicCard
from oneonone.web import partials, redirects
from oneonone.web.agenda import rail
from oneonone.web.agenda.agenda_views import agenda_of
from oneonone.web.agenda.topic_forms import ImportanceForm
from oneonone.web.meetings import heading_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.placement_for)
def page(request: PersonRequest, placement: Placement) -> HttpResponse:
    """A topic on one meeting's agenda: a page, or the part that opens in the agenda."""
    shown = selector.of(request.person, placement.meeting, now=request.now)
    context = agenda_of(shown, now=request.now)
    context |= _topic(context, placement) | {
        "placement": placement,
        "margin_tab": heading_wording.margin_tab(shown.head),
        "back": redirects.agenda_path(placement.meeting, placement.topic_id),
    }
    return partials.answer(request, "agenda/placement.html", "agenda/parts/topic_acts.html", context)


def _topic(context: dict[str, Any], placement: Placement) -> dict[str, Any]:
    """The row of the topic, in the order or beside it; neither when it was withdrawn or parked."""
    for row in context["rows"]:
        if row.box and row.box.topic.placement_id == placement.pk:
            account = rail.account(context["head"], row.box)
            return {"row": row, "box": row.box, "account": account} | _of(row.box.topic)
    for row in (*context["kept"], *context["late"]):
        if row.topic.placement_id == placement.pk:
            return {"row": row, "box": None, "account": (row.reason,)} | _of(row.topic)
    return {"row": None, "box": None, "topic": None}


def _of(topic: TopicCard) -> dict[str, Any]:
    form = ImportanceForm(initial={"importance": topic.yours}, auto_id=f"importance-{topic.topic_id}-%s")
    return {"topic": topic, "importance": form}
