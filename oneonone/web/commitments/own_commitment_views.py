"""All commitments in one place by date, and what follows from one that is done or is not."""

from __future__ import annotations

from uuid import NAMESPACE_URL, UUID, uuid4, uuid5

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Commitment, LogbookEntry, ReasonCode, Topic
from oneonone.models.base import TITLE
from oneonone.selectors.commitments import commitments as selector
from oneonone.selectors.commitments import plans as plan_selector
from oneonone.selectors.dates import line_calendar
from oneonone.services.agenda import topics
from oneonone.services.agenda.topics import Wording
from oneonone.services.commitments import plans
from oneonone.services.private import logbook
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, posted_data, redirects, spreadsheet, stale_edits
from oneonone.web.commitments.commitment_forms import NotDoneForm, TellForm
from oneonone.web.policy import LINE_SIDE, SIGNED_IN, PersonRequest, view

PAGE = "commitments"


@view(policy=SIGNED_IN)
def index(request: PersonRequest) -> HttpResponse:
    """One's own and the other sides' open commitments by date, and what one settled lately."""
    shown = selector.in_one_place(request.person, now=request.now)
    mine = [one for one in shown if one.is_mine]
    context = {
        "mine": mine,
        "theirs": [one for one in shown if not one.is_mine],
        "settled": selector.settled_lately(request.person, now=request.now),
        "plans": plan_selector.plans_of(request.person, [one.id for one in mine]),
        "punctuality": selector.punctuality(request.person),
        "here": request.path,
        "section": PAGE,
    }
    return render(request, "commitments/commitments.html", context)


@view(policy=SIGNED_IN)
def export(request: PersonRequest) -> HttpResponse:
    """One's own commitments as comma-separated values, with what is shared of them."""
    own = [one for one in selector.in_one_place(request.person, now=request.now) if one.is_mine]
    own += selector.settled_lately(request.person, now=request.now)
    head = ("action", "with", "original_date", "current_date", "state", "how_known", "times_carried")
    rows = (
        (
            one.action,
            one.other,
            one.original_date.isoformat(),
            one.current_date.isoformat(),
            one.state,
            one.how_known,
            one.times_carried,
        )
        for one in own
    )
    return spreadsheet.attachment(spreadsheet.as_csv(head, rows), content_type="text/csv", name="export.csv")


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def not_done(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Say what got in the way and what will be different; a new date is the only part that is shared."""
    back = redirects.back_path(request, reverse(PAGE))
    kept = plan_selector.plan_for(request.person, commitment.pk)
    initial = {**kept.texts, "reason": kept.reason, "revision": kept.revision, "version": commitment.version}
    form, texts = NotDoneForm(posted_data.form_data(request), initial=initial), None
    if form.is_bound and form.is_valid():
        with form_refusals.at(form):
            try:
                _keep_plan(request, commitment, form)
                messages.success(request, _("Saved. Only the new date is shared."))
                if form.cleaned_data["reason"] == ReasonCode.OTHER_SIDE and commitment.line.is_open:
                    return redirect("commitment-tell", commitment_id=commitment.pk)
                return redirect(back)
            except Stale as refusal:
                counter = "version" if "date" in refusal.theirs else "revision"
                texts = stale_edits.texts(request, refusal, "date" if counter == "version" else "next_step")
                form = NotDoneForm(stale_edits.sent_again(request, refusal, counter))
    context = {
        "form": form,
        "commitment": commitment,
        "cannot_be_opened": kept.cannot_be_opened,
        "texts": texts,
        "back": back,
        "section": PAGE,
    }
    status = stale_edits.STATUS if texts else form_refusals.status(form)
    return render(request, "commitments/commitment_not_done.html", context, status=status)


def _keep_plan(request: PersonRequest, commitment: Commitment, form: NotDoneForm) -> None:
    said = form.cleaned_data
    plans.write_with_date(
        commitment=commitment,
        reason=said["reason"],
        texts={name: said[name] for name in plans.TEXTS},
        revision=said["revision"],
        date=said["date"],
        version=said["version"],
        actor=request.person,
        now=request.now,
        today=line_calendar.local_day(request.now, request.person.zone),
    )


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("GET", "POST"))
def tell(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Offer to tell the other side that one waits for them: the exact words first."""
    if request.method == "POST" and not commitment.line.is_open:
        messages.error(request, _("The line has ended, so there is no agenda to put it on."))
        return redirect(PAGE)
    other = commitment.line.name_on(commitment.line.side_for(request.person).other)
    words = _("I am waiting for you: %(action)s") % {"action": commitment.action}
    form = TellForm(posted_data.form_data(request), initial={"title": words[:TITLE], "client_key": uuid4()})
    if form.is_bound and form.is_valid():
        with form_refusals.at(form):
            topics.add(
                line=commitment.line,
                wording=Wording(
                    title=form.cleaned_data["title"],
                    kind=Topic.Kind.OBSTACLE,
                    outcome_wanted=Topic.Outcome.SOLVE,
                ),
                client_key=form.cleaned_data["client_key"],
                actor=request.person,
                now=request.now,
            )
            messages.success(request, _("It is on the agenda now."))
            return redirect(PAGE)
    context = {"form": form, "commitment": commitment, "other": other, "section": PAGE}
    return render(request, "commitments/commitment_tell.html", context, status=form_refusals.status(form))


def _key(commitment: Commitment, what: str) -> UUID:
    """The same key each time, so that pressing twice makes one."""
    return uuid5(NAMESPACE_URL, f"{what}:{commitment.pk}")


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def log_achievement(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Keep a done commitment as an achievement in one's logbook."""
    if commitment.state != Commitment.State.DONE or commitment.settled_at is None:
        raise Http404
    zone, back = request.person.zone, redirects.back_path(request, reverse(PAGE))
    with form_refusals.told(request):
        entry = logbook.add(
            kind=LogbookEntry.Kind.ACHIEVEMENT,
            line=commitment.action[:TITLE],
            event_on=line_calendar.local_day(commitment.settled_at, zone),
            client_key=_key(commitment, "achievement"),
            actor=request.person,
            now=request.now,
            today=line_calendar.local_day(request.now, zone),
        )
        messages.success(request, _("Saved in your logbook. Nobody else sees it."))
        back = reverse("logbook-entry", args=[entry.pk])
    return redirect(back)


@view(policy=LINE_SIDE, door=access.commitment_for_owner, methods=("POST",))
def ask_feedback(request: PersonRequest, commitment: Commitment) -> HttpResponse:
    """Put a done commitment on the agenda as a topic that asks for feedback. Its words are shared already."""
    if commitment.state != Commitment.State.DONE:
        raise Http404
    with form_refusals.told(request):
        topics.add(
            line=commitment.line,
            wording=Wording(
                title=(_("Feedback, please: %(action)s") % {"action": commitment.action})[:TITLE],
                kind=Topic.Kind.FEEDBACK,
                outcome_wanted=Topic.Outcome.ADVISE,
            ),
            client_key=_key(commitment, "feedback"),
            actor=request.person,
            now=request.now,
        )
        messages.success(request, _("It is on the agenda now."))
    return redirects.back(request, reverse(PAGE))
