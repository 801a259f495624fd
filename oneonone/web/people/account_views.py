"""One account, and the acts of administrators on it. Each act has a page that explains its effect first."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Person
from oneonone import access
from oneonone.selectors.people import people as selector
from oneonone.services.people import administration
from oneonone.services.upkeep import erasure
from oneonone.web import form_refusals
from oneonone.web.policy import ADMINISTRATOR, PersonRequest, view


@view(policy=ADMINISTRATOR, door=access.person_for_administrator)
def page(request: PersonRequest, person: Person) -> HttpResponse:
    """One account: ways in, lines by number, and the acts."""
    return _ask(request, person, "people/account.html")


def _ask(request: PersonRequest, person: Person, template: str) -> HttpResponse:
    # Not the demo's clock: sessions run out by the machine's.
    account = selector.account(request.person, person, now=timezone.now())
    context = {"account": account, "section": "people"}
    return render(request, template, context)


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("GET", "POST"), again=True)
def close(request: PersonRequest, person: Person) -> HttpResponse:
    """Close the account."""
    if request.method != "POST":
        return _ask(request, person, "people/account_close.html")
    with form_refusals.told(request):
        administration.deactivate(person=person, actor=request.person, now=request.now)
        messages.success(request, _("The account is closed, and signed out everywhere."))
    return redirect("account", person.pk)


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("POST",), again=True)
def reopen(request: PersonRequest, person: Person) -> HttpResponse:
    """Open a closed account again."""
    with form_refusals.told(request):
        administration.reactivate(person=person, actor=request.person, now=request.now)
        messages.success(request, _("The account is open again."))
    return redirect("account", person.pk)


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("GET", "POST"), again=True)
def reset_second_factor(request: PersonRequest, person: Person) -> HttpResponse:
    """Take away second factors that were lost."""
    if request.method != "POST":
        return _ask(request, person, "people/account_factor.html")
    with form_refusals.told(request):
        administration.reset_second_factor(person=person, actor=request.person, now=request.now)
        messages.success(request, _("The second factors are removed. Both of you are told by mail."))
    return redirect("account", person.pk)


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("POST",), again=True)
def place_hold(request: PersonRequest, person: Person) -> HttpResponse:
    """Forbid erasing."""
    with form_refusals.told(request):
        administration.place_hold(person=person, actor=request.person, now=request.now)
        messages.success(request, _("Nothing of this person's can be erased until the hold is lifted."))
    return redirect("account", person.pk)


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("POST",), again=True)
def lift_hold(request: PersonRequest, person: Person) -> HttpResponse:
    """Allow erasing again."""
    with form_refusals.told(request):
        administration.lift_hold(person=person, actor=request.person, now=request.now)
        messages.success(request, _("The hold is lifted."))
    return redirect("account", person.pk)


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("GET", "POST"), again=True)
def erase(request: PersonRequest, person: Person) -> HttpResponse:
    """Erase the person, for good."""
    if request.method != "POST":
        return _ask(request, person, "people/account_erase.html")
    with form_refusals.told(request):
        erasure.erase(person=person, actor=request.person, now=request.now)
        messages.success(request, _("The person is erased."))
    return redirect("people")
