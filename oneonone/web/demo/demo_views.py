"""Pages that only the demo has: its clock is moved on, and its mails are read."""

from __future__ import annotations

from collections.abc import Callable
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.defaultfilters import date as as_date
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone import mailfolder
from oneonone.models import Notice
from oneonone.selectors.notices.due_instants import Fell
from oneonone.web.policy import ADMINISTRATOR, PUBLIC, PersonRequest, PublicRequest, view
from tasks import demo

ZONE = "Europe/London"
A_PAGE = 8
Kind = Notice.Kind


@view(policy=PUBLIC, methods=("POST",))
def move_on(request: PublicRequest) -> HttpResponse:
    """Move the clock on, say what happened, and go back to the page it was asked from."""
    step = request.POST.get("step", "")
    if step not in (demo.EVENT, demo.MEETING, *demo.STEPS):
        messages.error(
            request,
            _(
                "The clock was not moved. It moves by five minutes, to the next one-on-one, to the next "
                "event, by a day or by a week."
            ),
        )
    else:
        moved = demo.move_on(step, reader=request.person)
        local = moved.now.astimezone(ZoneInfo(ZONE))
        here = _("It is now %(moment)s.") % {"moment": as_date(local, "l j F, H:i")}
        messages.success(request, f"{here} {what_fell_due(moved.fell)}")
    return redirect(_back(request))


def _back(request: HttpRequest) -> str:
    asked_from = request.headers.get("Referer", "")
    safe = url_has_allowed_host_and_scheme(
        asked_from, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked_from if safe else "/"


def what_fell_due(fell: Fell) -> str:
    """One sentence with numbers, in the order in which things happen in a meeting's cycle."""
    parts = [words(number) for kind, words in _WORDS.items() if (number := fell.notices.get(kind, 0))]
    if fell.orders:
        parts.append(
            ngettext("%(n)d order was issued", "%(n)d orders were issued", fell.orders) % {"n": fell.orders}
        )
    if fell.carries:
        parts.append(
            ngettext("%(n)d commitment was carried on", "%(n)d commitments were carried on", fell.carries)
            % {"n": fell.carries}
        )
    if fell.mails:
        parts.append(ngettext("%(n)d mail went out", "%(n)d mails went out", fell.mails) % {"n": fell.mails})
    if not parts:
        return _("Nothing fell due on the way.")
    return _("On the way: %(parts)s.") % {"parts": ", ".join(parts)}


def _asked(n: int) -> str:
    return ngettext("%(n)d invitation for topics", "%(n)d invitations for topics", n) % {"n": n}


def _prepare(n: int) -> str:
    return ngettext("%(n)d reminder to prepare", "%(n)d reminders to prepare", n) % {"n": n}


def _today(n: int) -> str:
    return ngettext("%(n)d reminder of the day", "%(n)d reminders of the day", n) % {"n": n}


def _unanswered(n: int) -> str:
    return ngettext("%(n)d question “did you meet?”", "%(n)d questions “did you meet?”", n) % {"n": n}


def _commitment(n: int) -> str:
    return ngettext("%(n)d reminder of a commitment", "%(n)d reminders of commitments", n) % {"n": n}


def _choice(n: int) -> str:
    said = ngettext(
        "%(n)d question about what was carried twice", "%(n)d questions about what was carried twice", n
    )
    return said % {"n": n}


def _cadence(n: int) -> str:
    return ngettext("%(n)d reminder of an interval", "%(n)d reminders of intervals", n) % {"n": n}


def _record(n: int) -> str:
    return ngettext("%(n)d look at a record asked for", "%(n)d looks at records asked for", n) % {"n": n}


_WORDS: dict[str, Callable[[int], str]] = {
    Kind.INVITE: _asked,
    Kind.PREPARE: _prepare,
    Kind.TODAY: _today,
    Kind.RECORD: _record,
    Kind.UNANSWERED: _unanswered,
    Kind.COMMITMENT: _commitment,
    Kind.CHOICE: _choice,
    Kind.CADENCE: _cadence,
}


@view(policy=ADMINISTRATOR)
def mail(request: PersonRequest) -> HttpResponse:
    """The letters that would have left the house, all or those to one address, newest first; none has."""
    if settings.MAIL_FOLDER is None:
        raise Http404
    everything = mailfolder.letters(settings.MAIL_FOLDER)
    people = sorted({letter.to for letter in everything})
    to = request.GET.get("to", "")
    chosen = [letter for letter in everything if letter.to == to] if to in people else everything
    shown = Paginator(chosen, A_PAGE).get_page(request.GET.get("page"))
    context = {"letters": shown, "people": people, "to": to if to in people else "", "zone": ZONE}
    return render(request, "demo/demo_mail.html", context)
