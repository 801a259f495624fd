"""The summary sentence of the cadence page."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.selectors.cadence.cadence import Sums


def sentence(sums: Sums) -> str:
    """How many one-on-ones are past their interval, how many run out soon, the longest silence."""
    parts = [
        ngettext(
            "%(past)d of %(lines)d one-on-one is overdue",
            "%(past)d of %(lines)d one-on-ones are overdue",
            sums.lines,
        )
        % {"past": sums.over, "lines": sums.lines},
        *briefly(sums, past=False),
        ngettext(
            "the longest time without one is %(n)d day",
            "the longest time without one is %(n)d days",
            sums.longest,
        )
        % {"n": sums.longest},
    ]
    return _("%(parts)s, and %(last)s.") % {"parts": ", ".join(parts[:-1]), "last": parts[-1]}


def briefly(sums: Sums, *, past: bool = True) -> list[str]:
    """Return the parts of the sentence whose number is not 0."""
    said = [
        (
            sums.over if past else 0,
            ngettext("%(n)d is overdue", "%(n)d are overdue", sums.over),
        ),
        (
            sums.never_met,
            ngettext("%(n)d has never been held", "%(n)d have never been held", sums.never_met),
        ),
        (
            sums.runs_out,
            ngettext("%(n)d runs out within a week", "%(n)d run out within a week", sums.runs_out),
        ),
        (sums.paused, ngettext("%(n)d is paused", "%(n)d are paused", sums.paused)),
    ]
    return [words % {"n": n} for n, words in said if n]
