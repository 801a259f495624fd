"""Turning notices by mail off, from a link in a mail: by a person on the page, or by their mail program."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt

from oneonone.services.notices import mail_wishes
from oneonone.web.policy import PUBLIC, PublicRequest, view


# A mail program posts here without a cookie (RFC 8058, section 3.2): the token of the link is what it shows,
# and the cookie of whoever is signed in is not looked at.
@csrf_exempt
@view(policy=PUBLIC, methods=("GET", "POST"))
def one_click(request: PublicRequest, token: str) -> HttpResponse:
    """Ask first, since mail scanners open links; a POST is the yes."""
    person = mail_wishes.person_of(token)
    if person is None:
        raise Http404
    if request.method == "POST":
        mail_wishes.unsubscribe(person=person, now=request.now)
        person.refresh_from_db(fields=["wants_mail"])
    return render(request, "notices/unsubscribe.html", {"off": not person.wants_mail})
