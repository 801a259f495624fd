"""Proposals: the other side accepts or declines them, their author takes them back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Placement, Proposal
from oneonone.selectors import calendar
from oneonone.selectors import coming as coming_selector
from oneonone.services import coming, handover, intervals, timeproposals
from oneonone.services.agenda import late_topics
from oneonone.services.refusals import NotNow
from oneonone.web import going, intervalwords, refused, trying
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.proposal_for_answer, methods=("POST",))
def answer(request: PersonRequest, proposal: Proposal) -> HttpResponse:
    """Accept or decline a proposal. Any other value is refused."""
    said = request.POST.get("answer")
    if said not in ("accept", "decline"):
        messages.error(request, _("Choose one of the two answers."))
        return going.back(request, going.line_path(proposal.line))
    if proposal.kind == Proposal.Kind.LATE_TOPIC and proposal.placement and said == "accept":
        return _make_room(request, proposal, proposal.placement)
    with refused.told(request):
        before = coming_selector.earliest(proposal.line)
        _answer(request, proposal, accept=said == "accept")
        now = _("You have agreed.") if said == "accept" else _("You have declined.")
        if proposal.kind == Proposal.Kind.INTERVAL:
            if said == "decline":
                now = _("You have declined. The dates you both agreed before still apply.")
            now = f"{now} {intervalwords.moved(before, coming_selector.earliest(proposal.line))}".strip()
        messages.success(request, now)
    return going.back(request, going.line_path(proposal.line))


def _make_room(request: PersonRequest, proposal: Proposal, placement: Placement) -> HttpResponse:
    """Accept a late topic, after showing which topics it shortens or pushes out."""

    def act() -> None:
        late_topics.answer_late(proposal=proposal, accept=True, actor=request.person, now=request.now)

    question = trying.Question(
        title=_("Make room for “%(title)s”?") % {"title": placement.topic.title},
        key=str(placement.pk),
        back=going.agenda_path(placement.meeting, placement.topic_id),
        said=_("You have agreed."),
    )
    return trying.answer_or_say(request, placement.meeting, act, question, ask_about=trying.costs)


def _answer(request: PersonRequest, proposal: Proposal, *, accept: bool) -> None:
    if proposal.kind == Proposal.Kind.LATE_TOPIC:
        late_topics.answer_late(proposal=proposal, accept=accept, actor=request.person, now=request.now)
    elif proposal.kind == Proposal.Kind.HAND_OVER:
        act = handover.accept if accept else handover.decline
        act(proposal=proposal, actor=request.person, now=request.now)
    elif proposal.kind == Proposal.Kind.INTERVAL:
        zone = proposal.interval.zone if proposal.interval else request.person.zone
        intervals.answer(
            proposal=proposal,
            accept=accept,
            actor=request.person,
            now=request.now,
            today=calendar.local_day(request.now, zone),
        )
        coming.ensure(line=proposal.line, now=request.now)
    elif proposal.kind in (Proposal.Kind.TIME, Proposal.Kind.EXTRA):
        timeproposals.answer(proposal=proposal, accept=accept, actor=request.person, now=request.now)
    else:
        raise NotNow


@view(policy=LINE_SIDE, door=access.proposal_for_withdrawal, methods=("POST",))
def withdraw(request: PersonRequest, proposal: Proposal) -> HttpResponse:
    """Take back the person's own proposal: of a time, of room for a topic, or to hand a commitment over."""
    with refused.told(request):
        _withdraw(request, proposal)
        messages.success(request, _("Taken back. Nothing changes."))
    return going.back(request, going.line_path(proposal.line))


def _withdraw(request: PersonRequest, proposal: Proposal) -> None:
    if proposal.kind == Proposal.Kind.LATE_TOPIC:
        late_topics.take_back(proposal=proposal, actor=request.person, now=request.now)
    elif proposal.kind == Proposal.Kind.HAND_OVER:
        handover.withdraw(proposal=proposal, actor=request.person, now=request.now)
    else:
        timeproposals.withdraw(proposal=proposal, actor=request.person, now=request.now)
