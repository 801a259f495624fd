"""The answer about a topic that was not reached three times."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Topic
from oneonone.services.agenda import third_time
from oneonone.web import form_refusals, redirects
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.topic_for, methods=("POST",))
def answer(request: PersonRequest, topic: Topic) -> HttpResponse:
    """Keep it, or let it go."""
    said = request.POST.get("drop")
    if said not in ("0", "1"):
        messages.error(request, _("Say whether to keep it or to let it go: nothing was answered."))
        return redirects.back(request, redirects.line_path(topic.line))
    with form_refusals.told(request):
        third_time.answer(topic=topic, drop=said == "1", actor=request.person, now=request.now)
        messages.success(request, _said(topic, request, drop=said == "1"))
    return redirects.back(request, redirects.line_path(topic.line))


def _said(topic: Topic, request: PersonRequest, *, drop: bool) -> str:
    if not drop:
        return _("“%(title)s” is kept.") % {"title": topic.title}
    if topic.raiser_id == request.person.pk:
        return _("“%(title)s” is withdrawn.") % {"title": topic.title}
    return _("“%(title)s” is parked. Whoever raised it can ask time for it again.") % {"title": topic.title}
