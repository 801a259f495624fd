"""A forgotten password on a server without mail: an administrator makes a link, its holder sets a new one."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from accounts.models import Person
from accounts.services import password_links
from accounts.services.password_links import State
from oneonone import access
from oneonone.selectors.people import people as selector
from oneonone.services.people import password_links as passwordlinks
from oneonone.web import form_refusals
from oneonone.web.people.people_forms import NewPasswordForm
from oneonone.web.policy import ADMINISTRATOR, PUBLIC, PersonRequest, PublicRequest, view

GONE = 410


@view(policy=ADMINISTRATOR, door=access.person_for_administrator, methods=("GET", "POST"), again=True)
def issue(request: PersonRequest, person: Person) -> HttpResponse:
    """Make a link for this person and show it, once. Refused where mail leaves: a code is mailed there."""
    if settings.MAIL_CAN_LEAVE:
        messages.error(
            request,
            _("This server sends mail. People can ask for a code on the sign-in page to set a new password."),
        )
        return redirect("account", person.pk)
    link = ""
    if request.method == "POST":
        with form_refusals.told(request):
            token = passwordlinks.issue(person=person, actor=request.person, now=request.now)
            link = f"{settings.BASE_URL}{reverse('new-password', args=[token])}"
        if not link:
            return redirect("account", person.pk)
    context = {
        "account": selector.account(request.person, person, now=timezone.now()),
        "link": link,
        "until": request.now + password_links.LASTS,
        "section": "people",
    }
    return render(request, "people/account_password.html", context)


@view(policy=PUBLIC, methods=("GET", "POST"))
def use(request: PublicRequest, token: str) -> HttpResponse:
    """Set a new password. It does not sign in, so that the second factor is still needed."""
    link = password_links.read(token, now=request.now)
    if link is None:
        raise Http404
    if link.state is State.OVER:
        return render(request, "signing_in/new_password.html", {"form": None}, status=GONE)
    form = NewPasswordForm(request.POST or None, person=link.person)
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            if not passwordlinks.use(link=link, password=form.cleaned_data["password"], now=request.now):
                return render(request, "signing_in/new_password.html", {"form": None}, status=GONE)
            messages.success(request, _("The new password is set, and you are signed out everywhere."))
            return redirect("account_login")
    context = {"form": form, "email": link.person.email}
    return render(request, "signing_in/new_password.html", context, status=form_refusals.status(form))
