"""Pages of commitments: add, accept, decline, mark as done, drop, change the date, hand over."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Commitment, Line, Meeting, Side
from oneonone.selectors.commitments import commitments as selector
from oneonone.services.commitments import commitments, due_dates, handover
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, posted_data, redirects, stale_edits
from oneonone.web.agenda import named_placement
from oneonone.web.commitments.commitment_forms import CueForm, DateForm, ForecastForm, TakeOnForm
from oneonone.web.policy import LINE_SIDE, PersonRequest, view
from oneonone.web.record.record_views import home_of

NEXT = "next"


@view(policy=LINE_SIDE, door=access.meeting_for_edit, methods=("GET", "POST"))
def take_on(request: PersonRequest, meeting: Meeting) -> HttpResponse:
    """Add a commitment in a meeting."""
    return _take_on(request, meeting.line, home_of(meeting), meeting)


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def take_on_between(request: PersonRequest, line: Line) -> HttpResponse:
    """Add a commitment between meetings."""
    return _take_on(request, line, reverse("line", args=[line.pk]), None)


def _take_on(request: PersonRequest, line: Line, otherwise: str, meeting: Meeting | None) -> HttpResponse:
    side = line.side_for(request.person)
    other, back = line.name_on(side.other), redirects.back_path(request, otherwise)
    form = TakeOnForm(posted_data.form_data(request), initial={"client_key": uuid4()}, other=other)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        with form_refusals.at(form):
            commitments.take_on(
                line=line,
                owner_side=side if said["owner"] == "me" else side.other,
                action=said["action"],
                how_known=said["how_known"],
                date=said["date"],
                actor=request.person,
                now=request.now,
                meeting=meeting,
                placement=named_placement.named(meeting, said["placement"]),
                cue_on=said["cue_on"],
                client_key=said["client_key"],
            )
            if said["owner"] != "me":
                messages.success(
                    request, _("Offered to %(other)s. It counts once they accept it.") % {"other": other}
                )
            return redirect(back)
    context = {"form": form, "line": line, "other": other, "back": back, "section": "lines"}
    return render(request, "commitments/commitment_take_on.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def confirm(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Accept a commitment that the other side typed for the person."""
    with form_refusals.told(request):
        commitments.confirm(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("You have accepted “%(action)s”.") % {"action": commitment.action})
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def decline(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Decline a commitment that the other side typed for the person."""
    with form_refusals.told(request):
        commitments.decline(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("You have declined “%(action)s”.") % {"action": commitment.action})
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def done(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Mark a commitment as done."""
    with form_refusals.told(request):
        commitments.done(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is done.") % {"action": commitment.action})
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def drop(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Drop a commitment."""
    with form_refusals.told(request):
        commitments.drop(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is dropped.") % {"action": commitment.action})
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def reopen(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Undo *done* or *dropped*: the commitment is open again."""
    with form_refusals.told(request):
        commitments.reopen(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("“%(action)s” is open again.") % {"action": commitment.action})
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def forecast(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Set whether the date will be met or may slip."""
    form = ForecastForm(request.POST)
    if form.is_valid():
        with form_refusals.told(request):
            due_dates.forecast(
                commitment=commitment,
                value=form.cleaned_data["forecast"],
                actor=request.person,
                now=request.now,
            )
    else:
        messages.error(request, _("Choose whether the date will be met or may slip."))
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def date(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Change the date of the person's own commitment. The first date stays on the row."""
    back = redirects.back_path(request, reverse(NEXT))
    initial = {"date": commitment.current_date, "version": commitment.version}
    form = DateForm(posted_data.form_data(request), initial=initial)
    texts = None
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            try:
                due_dates.change_date(
                    commitment=commitment,
                    date=form.cleaned_data["date"],
                    reason=form.cleaned_data["reason"],
                    basis=form.cleaned_data["basis"],
                    version=form.cleaned_data["version"],
                    actor=request.person,
                    now=request.now,
                )
                messages.success(request, _("The new date is saved. The first one is still shown beside it."))
                return redirect(back)
            except Stale as refusal:
                texts = stale_edits.texts(request, refusal, "date")
                form = DateForm(stale_edits.sent_again(request, refusal))
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
    status = stale_edits.STATUS if texts else form_refusals.status(form)
    return render(request, "commitments/commitment_date.html", context, status=status)


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def cue(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Set or remove the day of the owner's own reminder."""
    back = redirects.back_path(request, f"{reverse(NEXT)}#commitments")
    form = CueForm(
        posted_data.form_data(request), initial={"cue_on": selector.cue_of(request.person, commitment)}
    )
    if request.method == "POST" and form.is_valid():
        on = form.cleaned_data["cue_on"]
        with form_refusals.at(form):
            due_dates.set_cue(commitment=commitment, on=on, actor=request.person, now=request.now)
            messages.success(request, _("Saved. Only you see it.") if on else _("The reminder is removed."))
            return redirect(back)
    context = {"form": form, "commitment": commitment, "back": back, "section": "next"}
    return render(request, "commitments/commitment_cue.html", context, status=form_refusals.status(form))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def keep(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Keep a commitment that was carried as it is."""
    with form_refusals.told(request):
        due_dates.keep(commitment=commitment, actor=request.person, now=request.now)
        messages.success(request, _("You keep “%(action)s” as it is.") % {"action": commitment.action})
    return redirects.back(request, reverse(NEXT))


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def hand_over(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Ask the other side to take a commitment over. The page says first that they are asked at once."""
    back = redirects.back_path(request, reverse(NEXT))
    if request.method == "POST":
        with form_refusals.told(request):
            handover.offer(commitment=commitment, actor=request.person, now=request.now)
            messages.success(request, _("Offered. It stays yours until the other side accepts it."))
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
    return render(request, "commitments/commitment_hand_over.html", context)
