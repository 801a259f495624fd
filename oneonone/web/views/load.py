"""What an interval would cost its manager, shown on the forms that make one, before it is agreed."""

from __future__ import annotations

from django.http import HttpRequest

from accounts.models import Person
from accounts.refusals import Refusal
from oneonone.models import Line
from oneonone.selectors import load
from oneonone.services import intervals
from oneonone.web import loadwords
from oneonone.web.forms.lines import IntervalForm
from oneonone.web.policy import PersonRequest

PREVIEW = "preview"


def asked(request: HttpRequest) -> bool:
    """Whether the form was sent only to see what it would cost: nothing is kept then."""
    return request.method == "POST" and PREVIEW in request.POST


def words(
    request: PersonRequest, form: IntervalForm, *, manager: Person | None, line: Line | None = None
) -> str:
    """The manager's load as it is, or as the interval in the form would make it. Nothing for a report.

    ``line`` is the one whose interval would change; it is not counted twice.
    """
    if manager is None or manager.pk != request.person.pk:
        return ""
    if asked(request) and form.is_valid():
        try:
            cost = intervals.minutes_a_week(form.terms())
        except Refusal:
            return ""
        return loadwords.preview_words(load.of(manager, now=request.now, without=line), cost)
    return loadwords.load_words(load.of(manager, now=request.now))
