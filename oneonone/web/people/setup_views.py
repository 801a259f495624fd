"""The set-up page of an empty server. Its one-time link creates the first administrator."""

from __future__ import annotations

import functools

from allauth.account.utils import perform_login
from django.conf import settings
from django.http import Http404, HttpResponse
from django.shortcuts import render, resolve_url

from oneonone.services.people import server_setup
from oneonone.serving import setup_link
from oneonone.web import form_refusals
from oneonone.web.people.people_forms import SetUpForm
from oneonone.web.policy import PUBLIC, PublicRequest, view


@view(policy=PUBLIC, methods=("GET", "POST"))
def first_administrator(request: PublicRequest, token: str) -> HttpResponse:
    """Create the first account and name the organisation. Any other token gives 404."""
    if not setup_link.check(settings.DATA, token):
        raise Http404
    form = SetUpForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            person = server_setup.first_administrator(
                organisation=form.cleaned_data["organisation"],
                name=form.cleaned_data["name"],
                email=form.cleaned_data["email"],
                password=form.cleaned_data["password"],
                zone=form.cleaned_data["zone"],
                use_link=functools.partial(setup_link.consume, settings.DATA, token),
                now=request.now,
            )
            response: HttpResponse = perform_login(request, person, redirect_url=resolve_url("line-new"))
            return response
    return render(request, "people/setup.html", {"form": form}, status=form_refusals.status(form))
