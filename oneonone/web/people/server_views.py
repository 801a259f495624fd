"""The settings of the server and the trail of what was done, for administrators."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import ClosingDay, Organisation
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.people import audit_trail as trail
from oneonone.selectors.people import organisation as selector
from oneonone.services.people import administration
from oneonone.services.refusals import Stale
from oneonone.web import form_refusals, stale_edits
from oneonone.web.people import audit_wording
from oneonone.web.people.server_forms import ClosingDayForm, ServerSettingsForm
from oneonone.web.policy import ADMINISTRATOR, PersonRequest, view

A_PAGE = 50


def _organisation() -> Organisation:
    organisation = selector.the_organisation()
    if organisation is None:
        raise Http404
    return organisation


@view(policy=ADMINISTRATOR, methods=("GET", "POST"), again=True)
def settings(request: PersonRequest) -> HttpResponse:
    """What holds for everybody, and the closing days."""
    organisation = _organisation()
    if request.method != "POST":
        return _answer(request, organisation)
    form = ServerSettingsForm(request.POST)
    if form.is_valid():
        with form_refusals.at(form):
            try:
                changed = administration.change_settings(
                    organisation=organisation, actor=request.person, now=request.now, **form.cleaned_data
                )
            except Stale as late:
                form = ServerSettingsForm(stale_edits.sent_again(request, late))
                return _answer(request, organisation, form=form, late=True, status=stale_edits.STATUS)
            messages.success(request, _("The settings are saved.") if changed else _("Nothing was changed."))
            return redirect("server-settings")
    return _answer(request, organisation, form=form, status=form_refusals.UNPROCESSABLE)


@view(policy=ADMINISTRATOR, methods=("POST",))
def add_closing_day(request: PersonRequest) -> HttpResponse:
    """Note a day on which everybody is away."""
    form = ClosingDayForm(request.POST)
    if form.is_valid():
        today = line_calendar.local_day(request.now, request.person.zone)
        with form_refusals.at(form):
            administration.add_closing_day(
                day=form.cleaned_data["day"], actor=request.person, now=request.now, today=today
            )
            messages.success(request, _("The closing day is added."))
            return redirect("server-settings")
    return _answer(request, _organisation(), day=form, status=form_refusals.UNPROCESSABLE)


@view(policy=ADMINISTRATOR, door=access.closing_day_for_administrator, methods=("POST",))
def remove_closing_day(request: PersonRequest, closing_day: ClosingDay) -> HttpResponse:
    """Take a closing day back."""
    administration.remove_closing_day(closing_day=closing_day, actor=request.person, now=request.now)
    messages.success(request, _("The closing day is removed."))
    return redirect("server-settings")


def _answer(
    request: PersonRequest,
    organisation: Organisation,
    *,
    form: ServerSettingsForm | None = None,
    day: ClosingDayForm | None = None,
    late: bool = False,
    status: int = 200,
) -> HttpResponse:
    today = line_calendar.local_day(request.now, request.person.zone)
    context = {
        "form": form or ServerSettingsForm.of(organisation),
        "day_form": day or ClosingDayForm(),
        "closing_days": selector.closing_days(request.person, today=today),
        "now_there": organisation if late else None,
        "section": "people",
    }
    return render(request, "people/server_settings.html", context, status=status)


@view(policy=ADMINISTRATOR)
def audit(request: PersonRequest) -> HttpResponse:
    """Who did what to people, lines and settings, and who signed in; the newest first."""
    about = _id(request.GET.get("person", ""))
    events = Paginator(trail.events(request.person, about=about), A_PAGE)
    shown = events.get_page(request.GET.get("page"))
    context = {
        "events": [audit_wording.said(event) for event in trail.as_kept(request.person, list(shown))],
        "page": shown,
        "about": trail.name_of(request.person, about),
        "section": "people",
    }
    return render(request, "people/audit.html", context)


def _id(typed: str) -> UUID | None:
    try:
        return UUID(typed) if typed else None
    except ValueError:
        raise Http404 from None
