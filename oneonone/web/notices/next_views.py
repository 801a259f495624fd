"""The page Next: coming meetings, the reader's commitments, and what waits for an answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render

from oneonone import access
from oneonone.models import Notice
from oneonone.selectors.dates import time_proposals
from oneonone.selectors.dates.time_proposals import WaitingTime
from oneonone.selectors.meetings import next_page
from oneonone.selectors.notices.notices import NoticeView
from oneonone.services.notices import notices
from oneonone.web.agenda.topic_forms import TopicLineForm
from oneonone.web.notices import notice_wording, proposal_wording
from oneonone.web.policy import LINE_SIDE, SIGNED_IN, PersonRequest, view

COMMITMENTS_ON_A_PAGE = 20


@dataclass(frozen=True)
class Said:
    """A notice with its sentence and the address of the page it is about."""

    notice: NoticeView
    words: str
    href: str


@view(policy=SIGNED_IN)
def index(request: PersonRequest) -> HttpResponse:
    """The first page after signing in."""
    shown = next_page.page(request.person, now=request.now)
    times = [time for time in time_proposals.waiting(request.person, now=request.now) if not time.by_you]
    said = _said(shown, times)
    context = {
        "home": shown,
        "commitments": Paginator(
            sorted(shown.commitments, key=lambda one: not one.is_offered), COMMITMENTS_ON_A_PAGE
        ).get_page(request.GET.get("commitments")),
        "asks": [one for one in said if one.notice.asks],
        "notices": [one for one in said if not one.notice.asks],
        "waiting": proposal_wording.times(times),
        "topic_field": TopicLineForm(auto_id="add-%s")["title"],
        "here": request.path,
        "now": request.now,
    }
    return render(request, "notices/next.html", context)


def _said(shown: next_page.Home, times: Sequence[WaitingTime]) -> list[Said]:
    """The notices in words, without those that the page already shows together with their answers."""
    asked = {time.id for time in times} | {one.id for one in shown.commitments if one.is_offered}
    choices = {one.id for one in shown.commitments if one.asks_choice}
    left = {one.meeting.pk for one in shown.unanswered}
    return [
        Said(notice, notice_wording.sentence(notice), notice_wording.address(notice))
        for notice in shown.notices
        if notice.subject not in asked
        and not (notice.kind == Notice.Kind.CHOICE and notice.subject in choices)
        and not (notice.asks and notice.meeting_id in left)
    ]


@view(policy=LINE_SIDE, door=access.notice_for, methods=("POST",))
def read_notice(request: PersonRequest, notice: Notice) -> HttpResponse:
    """Dismiss one notice."""
    notices.mark_read(notice=notice, actor=request.person, now=request.now)
    return redirect("next")


@view(policy=SIGNED_IN, methods=("POST",))
def read_all_notices(request: PersonRequest) -> HttpResponse:
    """Dismiss all notices except those that wait for an answer."""
    notices.mark_all_read(actor=request.person, now=request.now)
    return redirect("next")
