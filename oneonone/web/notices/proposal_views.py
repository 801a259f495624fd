"""Proposals: the other side accepts or declines them, their author takes them back."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Placement, Proposal
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.selectors.dates import line_calendar
from oneonone.services.agenda import late_topics
from oneonone.services.commitments import handover
from oneonone.services.meetings import coming_meetings, intervals, time_proposals
from oneonone.services.refusals import NotNow
from oneonone.web import form_refusals, redirects
from oneonone.web.agenda import change_confirmation
from oneonone.web.lines import interval_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.proposal_for_answer, methods=("POST",))
def answer(request: PersonRequest, proposal: Proposal) -> HttpResponse:
    """Accept or decline a proposal. Any other value is refused."""
    said = request.POST.get("answer")
    if said not in ("accept", "decline"):
        messages.error(request, _("Choose one of the two answers."))
        return redirects.back(request, redirects.line_path(proposal.line))
    if proposal.kind == Proposal.Kind.LATE_TOPIC and proposal.placement and said == "accept":
        return _make_room(request, proposal, proposal.placement)
    with form_refusals.told(request):
        before = coming_selector.earliest(proposal.line)
        _answer(request, proposal, accept=said == "accept")
        now = _("You have agreed.") if said == "accept" else _("You have declined.")
        if proposal.kind == Proposal.Kind.INTERVAL:
            if said == "decline":
                now = _("You have declined. The dates you both agreed before still apply.")
            now = f"{now} {interval_wording.moved(before, coming_selector.earliest(proposal.line))}".strip()
        messages.success(request, now)
    return redirects.back(request, redirects.line_path(proposal.line))


def _make_room(request: PersonRequest, proposal: Proposal, placement: Placement) -> HttpResponse:
    """Accept a late topic, after showing which topics it shortens or pushes out."""

    def act() -> None:
        late_topics.answer_late(proposal=proposal, accept=True, actor=request.person, now=request.now)

    question = change_confirmation.Question(
        title=_("Make room for “%(title)s”?") % {"title": placement.topic.title},
        key=str(placement.pk),
        back=redirects.agenda_path(placement.meeting, placement.topic_id),
        said=_("You have agreed."),
    )
    return change_confirmation.answer_or_say(
        request, placement.meeting, act, question, ask_about=change_confirmation.costs
    )


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
            today=line_calendar.local_day(request.now, zone),
        )
        coming_meetings.ensure(line=proposal.line, now=request.now)
    elif proposal.kind in (Proposal.Kind.TIME, Proposal.Kind.EXTRA):
        time_proposals.answer(proposal=proposal, accept=accept, actor=request.person, now=request.now)
    else:
        raise NotNow


@view(policy=LINE_SIDE, door=access.proposal_for_withdrawal, methods=("POST",))
def withdraw(request: PersonRequest, proposal: Proposal) -> HttpResponse:
    """Take back the person's own proposal: of a time, of room for a topic, or to hand a commitment over."""
    with form_refusals.told(request):
        _withdraw(request, proposal)
        messages.success(request, _("Taken back. Nothing changes."))
    return redirects.back(request, redirects.line_path(proposal.line))


def _withdraw(request: PersonRequest, proposal: Proposal) -> None:
    if proposal.kind == Proposal.Kind.LATE_TOPIC:
        late_topics.take_back(proposal=proposal, actor=request.person, now=request.now)
    elif proposal.kind == Proposal.Kind.HAND_OVER:
        handover.withdraw(proposal=proposal, actor=request.person, now=request.now)
    else:
        time_proposals.withdraw(proposal=proposal, actor=request.person, now=request.now)
