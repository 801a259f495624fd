"""Topics placed by hand: one place on, before another one, at a time, or brought in."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Meeting, Placement
from oneonone.selectors.agenda import agenda_page as agendas
from oneonone.selectors.agenda import order_view as orders
from oneonone.selectors.agenda.order_view import OrderView
from oneonone.services.agenda import change_preview, late_topics, placement_by_hand
from oneonone.web import form_refusals, redirects
from oneonone.web.agenda import change_confirmation
from oneonone.web.agenda.topic_forms import END, BringInForm, MoveForm, PlaceForm, StartForm
from oneonone.web.agenda.wording import reason_wording
from oneonone.web.meetings import heading_wording
from oneonone.web.policy import LINE_SIDE, PersonRequest, view


@view(policy=LINE_SIDE, door=access.placement_for_edit, methods=("GET", "POST"))
def move(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Move a topic by hand: so many places, or from its page to before another one or to the end."""
    if request.method == "POST" and "place" not in request.POST:
        return _step(request, placement)
    view, _notes = orders.of(request.person, placement.meeting, private=False)
    form = PlaceForm(request.POST or None, places=_places(placement, view))
    if form.is_valid():
        said = form.cleaned_data["place"]
        following = None if said == END else Placement.objects.get(pk=said)

        def act() -> None:
            placement_by_hand.move_before(
                placement=placement, following=following, actor=request.person, now=request.now
            )

        with form_refusals.at(form):
            return change_confirmation.answer(
                request, placement.meeting, act, _question(placement), ask_about=change_confirmation.costs
            )
    return _page(request, placement, view, place=form)


def _step(request: PersonRequest, placement: Placement) -> HttpResponse:
    form = MoveForm(request.POST)
    back = redirects.agenda_path(placement.meeting, placement.topic_id)
    if not form.is_valid():
        messages.error(request, _("Say how many places: a whole number, below 0 for earlier."))
        return redirects.back(request, back)
    places: int = form.cleaned_data["places"]

    def act() -> None:
        placement_by_hand.move(placement=placement, places=places, actor=request.person, now=request.now)

    return change_confirmation.answer_or_say(
        request, placement.meeting, act, _question(placement), ask_about=change_confirmation.costs
    )


def _question(placement: Placement) -> change_confirmation.Question:
    return change_confirmation.Question(
        title=_("Move “%(title)s”?") % {"title": placement.topic.title},
        key=str(placement.pk),
        back=redirects.agenda_path(placement.meeting, placement.topic_id),
    )


@view(policy=LINE_SIDE, door=access.placement_for_edit, methods=("POST",))
def start(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Set the time at which a topic begins, or let it begin wherever it comes again."""
    if "release" in request.POST:
        title = _("Leave “%(title)s” to the planner?") % {"title": placement.topic.title}
        return change_confirmation.answer_or_say(
            request,
            placement.meeting,
            lambda: _begin(request, placement, None),
            replace(_question(placement), title=title),
            ask_about=change_confirmation.costs,
        )
    view, _notes = orders.of(request.person, placement.meeting, private=False)
    form = _start_form(request, placement, view)
    if form.is_valid():
        minute: int = form.cleaned_data["minute"]
        with form_refusals.at(form):
            return change_confirmation.answer(
                request,
                placement.meeting,
                lambda: _begin(request, placement, minute),
                _question(placement),
                ask_about=change_confirmation.costs,
            )
    return _page(request, placement, view, start=form)


def _begin(request: PersonRequest, placement: Placement, minute: int | None) -> None:
    placement_by_hand.begin_at(placement=placement, minute=minute, actor=request.person, now=request.now)


@view(policy=LINE_SIDE, door=access.placement_for_edit, methods=("POST",))
def bring_in(request: PersonRequest, placement: Placement) -> HttpResponse:
    """Give a topic that was left out a place, and a start if one is said, after showing what it displaces."""
    title = _("A place for “%(title)s”?") % {"title": placement.topic.title}
    question = replace(_question(placement), title=title)

    def at(minute: int | None) -> change_preview.Act:
        return lambda: late_topics.bring_in(
            placement=placement, actor=request.person, now=request.now, minute=minute
        )

    if "minute" not in request.POST:
        return change_confirmation.answer_or_say(
            request, placement.meeting, at(None), question, ask_about=change_confirmation.costs
        )
    view, _notes = orders.of(request.person, placement.meeting, private=False)
    form = _start_form(request, placement, view)
    if form.is_valid():
        with form_refusals.at(form):
            act = at(form.cleaned_data["minute"])
            return change_confirmation.answer(
                request, placement.meeting, act, question, ask_about=change_confirmation.costs
            )
    return _page(request, placement, view, start=form)


def _places(placement: Placement, view: OrderView) -> list[tuple[str, str]]:
    """The topics still to come that it can be moved before, and the end, but for where it is already."""
    clock = reason_wording.clock_of(placement.meeting)
    own = next((n for n, box in enumerate(view.boxes) if box.topic.placement_id == placement.pk), None)
    before = [
        (
            str(box.topic.placement_id),
            _("Before “%(title)s”, %(clock)s") % {"title": box.topic.title, "clock": clock(box.minute)},
        )
        for n, box in enumerate(view.boxes)
        if box.topic.is_undecided and not box.topic.began and own not in (n, n - 1)
    ]
    return before if own == len(view.boxes) - 1 else [*before, (END, _("At the end"))]


def _start_form(request: PersonRequest, placement: Placement, view: OrderView) -> StartForm:
    """The form of a start: one that has to be said for a topic with a place, and may be for one without."""
    meeting = placement.meeting
    box = next((box for box in view.boxes if box.topic.placement_id == placement.pk), None)
    kind = BringInForm if box is None else StartForm
    return kind(
        request.POST if "minute" in request.POST else None,
        clock=lambda minute: _clock_time(meeting, minute).strftime("%H:%M"),
        first=view.opening,
        last=meeting.minutes - view.closing - 1,
        initial={} if box is None else {"minute": _clock_time(meeting, box.minute)},
    )


def _clock_time(meeting: Meeting, minute: int) -> dt.time:
    at = meeting.minute_zero + dt.timedelta(minutes=minute)
    return at.astimezone(ZoneInfo(meeting.zone)).time()


def _page(
    request: PersonRequest,
    placement: Placement,
    view: OrderView,
    *,
    place: PlaceForm | None = None,
    start: StartForm | None = None,
) -> HttpResponse:
    """The page on which a place or a time is chosen. A refusal stands at its field."""
    meeting = placement.meeting
    head = agendas.head(request.person, meeting)
    box = next((box for box in view.boxes if box.topic.placement_id == placement.pk), None)
    forms = {
        "place": place or PlaceForm(places=_places(placement, view)),
        "start": start or _start_form(request, placement, view),
    }
    heading = _("Move “%(title)s”") if box else _("Bring in “%(title)s”")
    context = forms | {
        "heading": heading % {"title": placement.topic.title},
        "placement": placement,
        "box": box,
        "head": head,
        "meeting": meeting,
        "eyebrow": heading_wording.title(head, now=request.now),
        "may_move": meeting.is_coming and placement.outcome == Placement.Outcome.UNDECIDED,
        "back": redirects.back_path(request, redirects.agenda_path(meeting, placement.topic_id)),
        "section": "lines",
    }
    return render(request, "agenda/topic_move.html", context, status=form_refusals.status(*forms.values()))
