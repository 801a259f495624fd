"""Settings: a person's profile, days away, and links to the pages about signing in."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from accounts.models import DayAway
from oneonone import access
from oneonone.selectors.cadence import absence
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.notices import mail_wishes as mail_wishes_selector
from oneonone.selectors.people import own_account
from oneonone.services.notices import mail_wishes
from oneonone.services.people import profile
from oneonone.web import form_refusals
from oneonone.web.people.people_forms import DaysAwayForm, MailForm, ProfileForm
from oneonone.web.policy import SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN)
def show(request: PersonRequest) -> HttpResponse:
    """All settings of the person."""
    return _answer(request)


@view(policy=SIGNED_IN, methods=("POST",))
def change_profile(request: PersonRequest) -> HttpResponse:
    """Keep the profile."""
    form = ProfileForm(request.POST, person=request.person)
    if form.is_valid():
        with form_refusals.at(form):
            changed = profile.change(actor=request.person, profile=form.profile(), now=request.now)
            messages.success(request, _("Your settings are saved.") if changed else _("Nothing was changed."))
            return redirect("settings")
    return _answer(request, profile_form=form)


@view(policy=SIGNED_IN, methods=("POST",))
def change_mail(request: PersonRequest) -> HttpResponse:
    """Keep when mail is to come, and of what."""
    form = MailForm(request.POST)
    if form.is_valid():
        with form_refusals.at(form):
            changed = mail_wishes.change(
                actor=request.person,
                digest_at=form.cleaned_data["digest_at"],
                off=form.off(),
                now=request.now,
            )
            messages.success(request, _("Your settings are kept.") if changed else _("Nothing was changed."))
            return redirect("settings")
    return _answer(request, mail_form=form)


@view(policy=SIGNED_IN, methods=("POST",))
def add_days_away(request: PersonRequest) -> HttpResponse:
    """Note days away."""
    form = DaysAwayForm(request.POST)
    if form.is_valid():
        with form_refusals.at(form):
            first, last = form.days()
            away = profile.add_days_away(actor=request.person, first=first, last=last, now=request.now)
            messages.success(request, _("These days are added."))
            if absence.falling_on(request.person, away, now=request.now):
                return redirect("absence", away.pk)
            return redirect("settings")
    return _answer(request, days_form=form)


@view(policy=SIGNED_IN, door=access.day_away_for, methods=("POST",))
def remove_days_away(request: PersonRequest, days_away: DayAway) -> HttpResponse:
    """Take days away back."""
    profile.remove_days_away(actor=request.person, days_away=days_away, now=request.now)
    messages.success(request, _("These days are removed."))
    return redirect("settings")


def _answer(
    request: PersonRequest,
    *,
    profile_form: ProfileForm | None = None,
    days_form: DaysAwayForm | None = None,
    mail_form: MailForm | None = None,
) -> HttpResponse:
    refusals = [form for form in (profile_form, days_form, mail_form) if form is not None]
    today = line_calendar.local_day(request.now, request.person.zone)
    context = {
        "section": "settings",
        "profile_form": profile_form or ProfileForm.of(request.person),
        "days_form": days_form or DaysAwayForm(),
        "mail_form": mail_form or MailForm.of(mail_wishes_selector.of(request.person)),
        "days_away": own_account.days_away(request.person, today=today),
        "ways_in": own_account.ways_in(request.person),
    }
    return render(request, "people/settings.html", context, status=form_refusals.status(*refusals))
