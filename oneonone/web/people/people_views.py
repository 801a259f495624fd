"""People and lines: the administrator's page. It leads to no topic, note, record or date of a meeting."""

from __future__ import annotations

from uuid import uuid4

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from oneonone import access
from oneonone.models import Line, Side
from oneonone.selectors.dates import line_calendar
from oneonone.selectors.notices import background
from oneonone.selectors.people import people as selector
from oneonone.services.lines import lines
from oneonone.web import form_refusals, posted_data
from oneonone.web.lines.line_forms import IntervalForm
from oneonone.web.lines.line_views import hand_over
from oneonone.web.people.pair_forms import PairForm
from oneonone.web.policy import ADMINISTRATOR, LINE_SIDE, PersonRequest, view

A_PAGE = 50


@view(policy=ADMINISTRATOR)
def index(request: PersonRequest) -> HttpResponse:
    """Show accounts, reporting lines and the state of the jobs."""
    # No name or address has such characters, and PostgreSQL refuses to look for one of them.
    words = "".join(filter(str.isprintable, request.GET.get("words", ""))).strip()[:100]
    people = Paginator(selector.people(request.person, words=words), A_PAGE)
    kept = Paginator(selector.lines(request.person, now=request.now, words=words), A_PAGE)
    lines_page = kept.get_page(request.GET.get("lines"))
    context = {
        "words": words,
        "people": people.get_page(request.GET.get("page")),
        "lines_page": lines_page,
        "lines": [selector.as_kept(line, now=request.now) for line in lines_page],
        "health": background.health(request.person, now=request.now),
    }
    return render(request, "people/people.html", context)


@view(policy=ADMINISTRATOR, methods=("GET", "POST"))
def new_line(request: PersonRequest) -> HttpResponse:
    """Make a line between two people, or between one and somebody new who is invited."""
    today = line_calendar.local_day(request.now, request.person.zone)
    pair = PairForm(posted_data.form_data(request), initial={"client_key": uuid4()}, reader=request.person)
    usual = {
        "zone": request.person.zone,
        "first_day": line_calendar.first_day_for(request.person, today=today),
    }
    interval = IntervalForm(request.POST or None, today=today, initial=usual)
    if request.method == "POST" and pair.is_valid() and interval.is_valid():
        said = pair.cleaned_data
        new = None
        if said["report"] is None:
            new = lines.Invited(name=said["name"], email=said["email"], side=Side.REPORT)
        with form_refusals.at(pair, interval):
            made = lines.create(
                actor=request.person,
                now=request.now,
                today=today,
                terms=interval.terms(),
                manager=said["manager"],
                report=said["report"],
                invited=new,
                starts_on=said["starts_on"],
                client_key=said["client_key"],
            )
            hand_over(request, made)
            messages.success(request, _("The line is added."))
            return redirect("people")
    context = {"pair": pair, "interval": interval, "section": "people"}
    return render(
        request, "people/people_line_new.html", context, status=form_refusals.status(pair, interval)
    )


@view(policy=LINE_SIDE, door=access.line_for_administrator, methods=("POST",))
def confirm_line(request: PersonRequest, line: Line) -> HttpResponse:
    """Open the view down the tree for a line that a manager made."""
    lines.confirm(line=line, actor=request.person, now=request.now)
    messages.success(request, _("The line is confirmed."))
    return redirect("people")
