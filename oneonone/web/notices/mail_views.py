"""Mails that were not sent, or that nobody knows to have arrived: to whom and since when, never what of."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Mail
from oneonone.selectors.people import people as selector
from oneonone.services.notices import mails
from oneonone.web.policy import ADMINISTRATOR, PersonRequest, view

A_PAGE = 50


@view(policy=ADMINISTRATOR)
def index(request: PersonRequest) -> HttpResponse:
    """Those that nobody has looked at."""
    kept = Paginator(selector.mails_to_look_at(request.person), A_PAGE)
    shown = kept.get_page(request.GET.get("page"))
    return render(request, "notices/mails.html", {"mails": shown, "section": "people"})


@view(policy=ADMINISTRATOR, door=access.mail_for_administrator, methods=("POST",))
def look_at(request: PersonRequest, mail: Mail) -> HttpResponse:
    """Say that one has looked at it."""
    mails.look_at(mail=mail, actor=request.person, now=request.now)
    messages.success(request, _("Removed from the list. The mail is not sent again."))
    return redirect("mails")
