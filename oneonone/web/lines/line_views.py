"""One-on-ones: all of a person's lines, one line, and what can be done to it."""

from __future__ import annotations

import datetime as dt
from uuid import UUID, uuid4

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from accounts.models import Invitation
from accounts.services import invitations
from oneonone import access
from oneonone.models import Line, Side
from oneonone.selectors.agenda import third_time
from oneonone.selectors.cadence import standing as standings
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.selectors.dates import line_calendar, time_proposals
from oneonone.selectors.lines import lines as selector
from oneonone.services import audit
from oneonone.services.lines import lines
from oneonone.services.meetings import coming_meetings, intervals
from oneonone.services.notices import mails
from oneonone.web import absolute_links, form_refusals
from oneonone.web.cadence import load_views
from oneonone.web.lines import interval_wording
from oneonone.web.lines.line_forms import IntervalForm, InviteForm, PauseForm
from oneonone.web.notices import proposal_wording
from oneonone.web.policy import LINE_SIDE, SIGNED_IN, PersonRequest, view

# How many past meetings, or ended lines, stand on one page.
A_PAGE = 20


def _today(request: PersonRequest, zone: str | None = None) -> dt.date:
    return line_calendar.local_day(request.now, zone or request.person.zone)


@view(policy=SIGNED_IN)
def index(request: PersonRequest) -> HttpResponse:
    """All own lines."""
    own = selector.own(request.person, now=request.now)
    ended = Paginator(own.ended, A_PAGE).get_page(request.GET.get("ended"))
    return render(request, "lines/lines.html", {"lines": own, "ended": ended})


@view(policy=SIGNED_IN, methods=("GET", "POST"))
def new(request: PersonRequest) -> HttpResponse:
    """Add a line and invite the other side."""
    today = _today(request)
    first = {"client_key": uuid4()}
    usual = {
        "zone": request.person.zone,
        "first_day": line_calendar.first_day_for(request.person, today=today),
    }
    invite = InviteForm(request.POST or None, initial=first)
    interval = IntervalForm(request.POST or None, today=today, initial=usual)
    if (
        not load_views.asked(request)
        and request.method == "POST"
        and invite.is_valid()
        and interval.is_valid()
    ):
        with form_refusals.at(invite, interval):
            side = Side(invite.cleaned_data["side"])
            made = lines.create(
                actor=request.person,
                now=request.now,
                today=today,
                terms=interval.terms(),
                manager=request.person if side is Side.REPORT else None,
                report=request.person if side is Side.MANAGER else None,
                invited=lines.Invited(
                    name=invite.cleaned_data["name"], email=invite.cleaned_data["email"], side=side
                ),
                client_key=invite.cleaned_data["client_key"],
            )
            hand_over(request, made)
            return redirect("line", made.line.pk)
    as_manager = request.POST.get("side", Side.REPORT.value) == Side.REPORT.value
    context = {
        "invite": invite,
        "interval": interval,
        "load_words": load_views.words(request, interval, manager=request.person if as_manager else None),
        "section": "lines",
    }
    return render(request, "lines/line_new.html", context, status=form_refusals.status(invite, interval))


def hand_over(request: PersonRequest, made: lines.Made) -> None:
    """Mail the invitation of a new line, or store its link in the session so that the next page shows it
    once.
    """
    if made.token is not None and made.line.invitation is not None:
        _deliver(request, made.line.pk, made.line.invitation, made.token)


def _deliver(request: PersonRequest, line_id: UUID, invitation: Invitation, token: str) -> None:
    link = absolute_links.absolute(reverse("invitation", args=[token]))
    if settings.MAIL_CAN_LEAVE:
        mails.owe_invitation_mail(invitation=invitation, link=link, now=request.now)
        messages.success(request, _("An invitation is sent to %(email)s.") % {"email": invitation.email})
        return
    # Shown once and then gone: the token is not stored anywhere in plain.
    request.session["invitation_link"] = {"line": str(line_id), "link": link}
    audit.note(actor=request.person, act="invitation link shown", subject=invitation.pk, now=request.now)


@view(policy=LINE_SIDE, door=access.line_for)
def page(request: PersonRequest, line: Line) -> HttpResponse:
    """One line: what is agreed, what comes, what has been."""
    shown = selector.page(request.person, line, now=request.now)
    kept = request.session.get("invitation_link")
    link = None
    if kept and kept["line"] == str(line.pk):
        link = kept["link"]
        del request.session["invitation_link"]
    times = time_proposals.waiting(request.person, now=request.now, line=line)
    history = Paginator(selector.history(request.person, line, now=request.now), A_PAGE)
    on_page = history.get_page(request.GET.get("page"))
    context = {
        "page": shown,
        "history": on_page,
        "past": selector.as_past(list(on_page)),
        "link": link,
        "waiting": proposal_wording.times(times),
        "third_time": third_time.asked(request.person, line, now=request.now) if line.is_open else (),
        "here": request.path,
        "now": request.now,
        "section": "lines",
    }
    return render(request, "lines/line.html", context)


@view(policy=LINE_SIDE, door=access.line_for_edit, methods=("GET", "POST"))
def interval(request: PersonRequest, line: Line) -> HttpResponse:
    """Propose a new interval to the other side."""
    shown = selector.page(request.person, line, now=request.now)
    today = shown.standing.today
    current = shown.intervals[-1]
    initial = IntervalForm.initial_of(current, first_day=_first_day(shown, today))
    form = IntervalForm(request.POST or None, today=today, initial=initial)
    if not load_views.asked(request) and request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            intervals.propose(
                line=line, terms=form.terms(), actor=request.person, now=request.now, today=today
            )
            coming_meetings.ensure(line=line, now=request.now)
            said = _("Proposed to %(other)s.") % {"other": shown.other} if shown.joined else _("Saved.")
            moved = interval_wording.moved(shown.coming, coming_selector.earliest(line))
            messages.success(request, f"{said} {moved}".strip())
            return redirect("line", line.pk)
    context = {
        "page": shown,
        "form": form,
        "beforehand": interval_wording.beforehand(shown),
        "load_words": load_views.words(request, form, manager=line.manager, line=line),
        "section": "lines",
    }
    return render(request, "meetings/line_interval.html", context, status=form_refusals.status(form))


def _first_day(shown: selector.LinePage, today: dt.date) -> dt.date:
    if shown.coming is None:
        return today
    return max(today, line_calendar.local_day(shown.coming.starts_at, shown.coming.zone))


@view(policy=LINE_SIDE, door=access.line_for_keeper, methods=("GET", "POST"))
def pause(request: PersonRequest, line: Line) -> HttpResponse:
    """Pause the line."""
    today = standings.of_line(line, now=request.now).today
    form = PauseForm(request.POST or None, initial={"first": today})
    if request.method == "POST" and form.is_valid():
        with form_refusals.at(form):
            lines.pause(
                line=line,
                first=form.cleaned_data["first"],
                last=form.cleaned_data["last"],
                actor=request.person,
                now=request.now,
                today=today,
            )
            messages.success(request, _("The line is paused."))
            return redirect(_back(request, line))
    context = {"line": line, "form": form, "back": _back(request, line), "section": "lines"}
    return render(request, "lines/line_pause.html", context, status=form_refusals.status(form))


def _back(request: PersonRequest, line: Line) -> str:
    """Return the page after an act: the line for its sides, the list for an administrator."""
    own = line.is_open and line.side_of(request.person) is not None
    return reverse("line", args=[line.pk]) if own else reverse("people")


@view(policy=LINE_SIDE, door=access.line_for_keeper, methods=("POST",))
def resume(request: PersonRequest, line: Line) -> HttpResponse:
    """Resume a paused line."""
    today = standings.of_line(line, now=request.now).today
    lines.resume(line=line, actor=request.person, now=request.now, today=today)
    messages.success(request, _("The line is no longer paused."))
    return redirect(_back(request, line))


@view(policy=LINE_SIDE, door=access.line_for_keeper, methods=("GET", "POST"))
def end(request: PersonRequest, line: Line) -> HttpResponse:
    """End a line, after a page that explains the effect."""
    if request.method == "POST":
        back = _back(request, line)
        own = line.side_of(request.person)
        today = standings.of_line(line, now=request.now).today
        lines.end(line=line, actor=request.person, now=request.now, today=today)
        messages.success(request, _("The reporting line has ended."))
        return redirect(reverse("lines") if own else back)
    names = {"report": line.name_on(Side.REPORT), "manager": line.name_on(Side.MANAGER)}
    context = {
        "line": line,
        "names": _("%(report)s with %(manager)s") % names,
        "back": _back(request, line),
        "section": "lines",
    }
    return render(request, "lines/line_end.html", context)


@view(policy=LINE_SIDE, door=access.line_for_keeper, methods=("POST",))
def invite_again(request: PersonRequest, line: Line) -> HttpResponse:
    """Send the invitation once more: a new link, and the old one stops working."""
    if line.invitation is not None:
        with form_refusals.told(request):
            token = invitations.resend(invitation=line.invitation, now=request.now)
            audit.note(
                actor=request.person, act="invitation resent", subject=line.invitation.pk, now=request.now
            )
            _deliver(request, line.pk, line.invitation, token)
    return redirect(_back(request, line))
