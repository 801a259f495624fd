"""A person's sessions, and ending them."""

from __future__ import annotations

import re

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models.session import HASH_LENGTH
from accounts.services import leaving
from oneonone.selectors.people import own_account
from oneonone.services import audit
from oneonone.web.policy import SIGNED_IN, PersonRequest, view

ALL_OTHERS = "others"


@view(policy=SIGNED_IN)
def index(request: PersonRequest) -> HttpResponse:
    """The list."""
    # Sessions expire by the machine's clock, which the demo clock does not change.
    places = own_account.places(request.person, current=request.session.session_key, now=timezone.now())
    return render(request, "signing_in/sessions.html", {"places": places, "section": "settings"})


@view(policy=SIGNED_IN, methods=("POST",), again=True)
def end(request: PersonRequest) -> HttpResponse:
    """End one session, or all others, after a fresh reauthentication (ASVS 5.0, 7.5.2)."""
    asked = request.POST.get("session", "")
    if asked == ALL_OTHERS:
        ended = leaving.end_sessions(person=request.person, but=request.session.session_key or "")
    else:
        ended = int(_is_hash(asked) and leaving.end_session(person=request.person, key_hash=asked))
    if not ended:
        messages.info(request, _("Nothing was changed: that session is over already."))
        return redirect("sessions")
    audit.note(
        actor=request.person,
        act="sessions ended",
        person=request.person,
        now=request.now,
        facts={"number": ended},
    )
    messages.success(
        request, ngettext("%(n)d session is ended.", "%(n)d sessions are ended.", ended) % {"n": ended}
    )
    return redirect("sessions")


def _is_hash(asked: str) -> bool:
    """Return whether the text can be a key hash. PostgreSQL refuses some characters even in a look-up."""
    return bool(re.fullmatch(f"[0-9a-f]{{{HASH_LENGTH}}}", asked))
