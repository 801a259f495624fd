"""The meeting time that an interval takes of its manager, shown on the forms for intervals."""

from __future__ import annotations

from django.http import HttpRequest

from accounts.models import Person
from accounts.refusals import Refusal
from oneonone.models import Line
from oneonone.selectors.cadence import load
from oneonone.services.meetings import intervals
from oneonone.web.cadence.wording import load_wording
from oneonone.web.lines.line_forms import IntervalForm
from oneonone.web.policy import PersonRequest

PREVIEW = "preview"


def asked(request: HttpRequest) -> bool:
    """Return whether the form was sent for a preview only. Nothing is saved then."""
    return request.method == "POST" and PREVIEW in request.POST


def words(
    request: PersonRequest, form: IntervalForm, *, manager: Person | None, line: Line | None = None
) -> str:
    """Return the manager's present load, or the load with the interval in the form. Empty for a report.

    ``line`` is the one whose interval would change; it is not counted twice.
    """
    if manager is None or manager.pk != request.person.pk:
        return ""
    if asked(request) and form.is_valid():
        try:
            cost = intervals.minutes_a_week(form.terms())
        except Refusal:
            return ""
        return load_wording.preview_words(load.of(manager, now=request.now, without=line), cost)
    return load_wording.load_words(load.of(manager, now=request.now))
