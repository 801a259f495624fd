"""Commitments: taken on, confirmed, kept or not, given another date, handed over."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Commitment, Line, Meeting, Side
from oneonone.selectors import commitments as selector
from oneonone.services import commitments, duedates, handover
from oneonone.services.refusals import Stale
from oneonone.web import going, placements, refused, sent, stale
from oneonone.web.forms.commitments import CueForm, DateForm, ForecastForm, TakeOnForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view
from oneonone.web.views.record import home_of

NEXT = "next"


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def take_on(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Write down in a meeting who does what by when."""
    return _take_on(request, meeting.line, home_of(meeting), meeting)


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def take_on_between(request: PersonRequest, line: Line) -> HttpResponse:
    """The same between meetings."""
    return _take_on(request, line, reverse("line", args=[line.pk]), None)


def _take_on(request: PersonRequest, line: Line, otherwise: str, meeting: Meeting | None) -> HttpResponse:
    side = line.side_for(request.person)
    other, back = line.name_on(side.other), going.back_path(request, otherwise)
    form = TakeOnForm(sent.form_data(request), initial={"client_key": uuid4()}, other=other)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        with refused.at(form):
            commitments.take_on(
                line=line,
                owner_side=side if said["owner"] == "me" else side.other,
                action=said["action"],
                how_known=said["how_known"],
                date=said["date"],
                actor=request.person,
                now=request.now,
                meeting=meeting,
                placement=placements.named(meeting, said["placement"]),
                cue_on=said["cue_on"],
                client_key=said["client_key"],
            )
            if said["owner"] != "me":
                messages.success(
                    request, _("Offered: it is %(other)s’s once they confirm it.") % {"other": other}
                )
            return redirect(back)
    context = {"form": form, "line": line, "other": other, "back": back, "section": "lines"}
    return render(request, "pages/commitment_take_on.html", context, status=refused.status(form))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def confirm(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Take on what the other side typed for one."""
    with refused.told(request):
        commitments.confirm(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is yours.") % {"action": commitment.action})
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def decline(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Do not take on what the other side typed for one."""
    with refused.told(request):
        commitments.decline(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is not taken on.") % {"action": commitment.action})
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def done(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Say that it is done."""
    with refused.told(request):
        commitments.done(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is done.") % {"action": commitment.action})
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def drop(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Say that one will not do it."""
    with refused.told(request):
        commitments.drop(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is dropped.") % {"action": commitment.action})
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def reopen(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Undo a slip: it is neither done nor dropped."""
    with refused.told(request):
        commitments.reopen(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is open again.") % {"action": commitment.action})
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def forecast(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Say whether the date will be made."""
    form = ForecastForm(request.POST)
    if form.is_valid():
        with refused.told(request):
            duedates.forecast(
                commitment=commitment,
                value=form.cleaned_data["forecast"],
                actor=request.person,
                now=request.now,
            )
    else:
        messages.error(request, _("Say that the date will be made, or that it may slip."))
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def date(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Give one's own commitment another date; the first one stays beside it."""
    back = going.back_path(request, reverse(NEXT))
    initial = {"date": commitment.current_date, "version": commitment.version}
    form = DateForm(sent.form_data(request), initial=initial)
    texts = None
    if request.method == "POST" and form.is_valid():
        with refused.at(form):
            try:
                duedates.change_date(
                    commitment=commitment,
                    date=form.cleaned_data["date"],
                    reason=form.cleaned_data["reason"],
                    basis=form.cleaned_data["basis"],
                    version=form.cleaned_data["version"],
                    actor=request.person,
                    now=request.now,
                )
                messages.success(request, _("The new date is kept; the first one stays beside it."))
                return redirect(back)
            except Stale as refusal:
                texts = stale.texts(request, refusal, "date")
                form = DateForm(stale.sent_again(request, refusal))
    (shown,) = selector.these(request.person, [commitment.pk], now=request.now)
    context = {
        "form": form,
        "commitment": commitment,
        "asks_choice": shown.asks_choice,
        "hand_over": shown.hand_over,
        "texts": texts,
        "back": back,
        "section": "next",
    }
    status = stale.STATUS if texts else refused.status(form)
    return render(request, "pages/commitment_date.html", context, status=status)


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def cue(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Set the day on which one means to begin, or take it away."""
    back = going.back_path(request, f"{reverse(NEXT)}#commitments")
    form = CueForm(sent.form_data(request), initial={"cue_on": selector.cue_of(request.person, commitment)})
    if request.method == "POST" and form.is_valid():
        on = form.cleaned_data["cue_on"]
        with refused.at(form):
            duedates.set_cue(commitment=commitment, on=on, actor=request.person, now=request.now)
            messages.success(request, _("Kept. Only you see it.") if on else _("No day is kept any more."))
            return redirect(back)
    context = {"form": form, "commitment": commitment, "back": back, "section": "next"}
    return render(request, "pages/commitment_cue.html", context, status=refused.status(form))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def keep(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Keep it as it is, though it was carried."""
    with refused.told(request):
        duedates.keep(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("You keep “%(action)s” as it is.") % {"action": commitment.action})
    return going.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def hand_over(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Ask the other side to take it over, after saying that they are asked at once."""
    back = going.back_path(request, reverse(NEXT))
    if request.method == "POST":
        with refused.told(request):
            handover.offer(commitment=commitment, actor=request.person, now=request.now)
            messages.success(request, _("Offered. It stays with you until the other side takes it."))
        return redirect(back)
    line = commitment.line
    side = Side(commitment.owner_side)
    context = {
        "commitment": commitment,
        "other": line.name_on(side.other),
        "other_joined": line.person_on(side.other) is not None,
        "may_offer": commitment.state == Commitment.State.OPEN and not commitment.is_offered and line.is_open,
        "back": back,
        "section": "next",
    }
    return render(request, "pages/commitment_hand_over.html", context)
