"""The background work, for administrators: when it ran, what is owed, what was set aside, a test mail."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Deferral
from oneonone.selectors.notices import background as selector
from oneonone.services.notices import background
from oneonone.web.policy import ADMINISTRATOR, PersonRequest, view


@view(policy=ADMINISTRATOR)
def show(request: PersonRequest) -> HttpResponse:
    """How the jobs and the mail are."""
    context = {
        "health": selector.health(request.person, now=request.now),
        "rows": selector.failing_rows(request.person),
        "mail_can_leave": settings.MAIL_CAN_LEAVE,
        "section": "people",
    }
    return render(request, "notices/background.html", context)


@view(policy=ADMINISTRATOR, methods=("POST",))
def send_test_mail(request: PersonRequest) -> HttpResponse:
    """Send oneself a mail, by the way that every mail goes."""
    mail = background.send_test_mail(actor=request.person, now=request.now)
    if mail is None:
        messages.error(request, _("There is no mail server: no mail can be sent."))
    else:
        messages.success(request, _("A test mail is on its way to you."))
    return redirect("background")


@view(policy=ADMINISTRATOR, door=access.deferral_for_administrator, methods=("POST",))
def try_again(request: PersonRequest, deferral: Deferral) -> HttpResponse:
    """Have a row tried again that was set aside."""
    background.try_again(deferral=deferral, actor=request.person, now=request.now)
    messages.success(request, _("It is tried again with the next run."))
    return redirect("background")
