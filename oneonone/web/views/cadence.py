"""Cadence: whether meetings happen, for whoever leads. Dates only."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.selectors import cadence
from oneonone.selectors.cadence import Sums
from oneonone.web.policy import SIGNED_IN, PersonRequest, view


@view(policy=SIGNED_IN)
def index(request: PersonRequest) -> HttpResponse:
    """The reader's own reports, or with ``?everyone`` everybody below them. Without reports it says so."""
    everyone = "everyone" in request.GET
    team = cadence.team(request.person, now=request.now, everyone=everyone)
    context = {"team": team, "sentence": sentence(team.sums)}
    return render(request, "pages/cadence.html", context)


def sentence(sums: Sums) -> str:
    """What a lead can repeat aloud: how many are past their interval, how many soon, the longest silence."""
    past = sums.over
    parts = [
        ngettext(
            "%(past)d of %(lines)d one-on-one is past its interval",
            "%(past)d of %(lines)d one-on-ones are past their interval",
            sums.lines,
        )
        % {"past": past, "lines": sums.lines}
    ]
    if sums.never_met:
        parts.append(
            ngettext("%(n)d has never been held", "%(n)d have never been held", sums.never_met)
            % {"n": sums.never_met}
        )
    if sums.runs_out:
        parts.append(
            ngettext("%(n)d runs out within a week", "%(n)d run out within a week", sums.runs_out)
            % {"n": sums.runs_out}
        )
    parts.append(
        ngettext("the longest silence is %(n)d day", "the longest silence is %(n)d days", sums.longest)
        % {"n": sums.longest}
    )
    return _("%(parts)s, and %(last)s.") % {"parts": ", ".join(parts[:-1]), "last": parts[-1]}
