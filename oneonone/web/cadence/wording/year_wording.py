"""The picture of a line's year in words: a short label for it, and all its facts as lists of days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.utils.formats import date_format
from django.utils.translation import get_language, gettext_lazy, ngettext
from django.utils.translation import gettext as _

from oneonone.selectors.cadence.year import Mark, Span, Year

LABELS = {
    "held": gettext_lazy("Held"),
    "confirmed": gettext_lazy("Planned"),
    "by interval": gettext_lazy("Expected"),
    "not said": gettext_lazy("Not known whether held"),
    "called off": gettext_lazy("Called off"),
    "not held": gettext_lazy("Not held"),
}


@dataclass(frozen=True)
class Fact:
    """What is true of some days."""

    label: str
    days: tuple[str, ...]


def facts(year: Year) -> tuple[Fact, ...]:
    """Return everything that the picture shows of a line, as lists of days."""
    found = [Fact(str(label), _days(year.marks, kind)) for kind, label in LABELS.items()]
    found.append(Fact(_("Moved"), tuple(_moved(mark) for mark in year.marks if mark.moved_from)))
    found.append(Fact(_("Paused"), tuple(_span(span) for span in year.paused)))
    found.append(Fact(_("Overdue"), tuple(_span(span) for span in year.past)))
    if year.first < year.began:
        found.append(Fact(_("Line began"), (_day(year.began),)))
    return tuple(fact for fact in found if fact.days)


def sums(year: Year) -> tuple[str, ...]:
    """The longest silence of the months up to today, and how many were held within the interval."""
    said = []
    if year.longest is not None:
        days = year.longest.days
        text = ngettext(
            "the longest time without one was %(n)d day, from %(first)s to %(last)s",
            "the longest time without one was %(n)d days, from %(first)s to %(last)s",
            days,
        )
        said.append(text % {"n": days, "first": _day(year.longest.first), "last": _day(year.longest.last)})
    if year.share.held:
        text = ngettext(
            "%(within)d of %(held)d was held within the interval agreed then",
            "%(within)d of %(held)d were held within the interval agreed then",
            year.share.held,
        )
        said.append(text % {"within": year.share.within, "held": year.share.held})
    return tuple(said)


def label(year: Year) -> str:
    """The picture in one sentence, for whoever does not see it."""
    held = sum(1 for mark in year.marks if mark.kind == "held")
    off = sum(1 for mark in year.marks if mark.kind == "called off")
    said = [ngettext("%(n)d held", "%(n)d held", held) % {"n": held}]
    if off:
        said.append(ngettext("%(n)d called off", "%(n)d called off", off) % {"n": off})
    if year.past:
        days = sum((span.last - span.first).days + 1 for span in year.past)
        said.append(ngettext("%(n)d day overdue", "%(n)d days overdue", days) % {"n": days})
    if year.paused:
        said.append(_("paused %(spans)s") % {"spans": ", ".join(_span(span) for span in year.paused)})
    return _("%(first)s to %(last)s: %(said)s") % {
        "first": date_format(year.first, "F Y"),
        "last": date_format(year.last, "F Y"),
        "said": ", ".join(said),
    }


def months(firsts: Sequence[dt.date]) -> list[str]:
    """The short names of months, as they stand above the picture."""
    return [date_format(first, "M") for first in firsts]


def _days(marks: Sequence[Mark], kind: str) -> tuple[str, ...]:
    return tuple(_day(mark.day) for mark in marks if mark.kind == kind)


def _moved(mark: Mark) -> str:
    before = ", ".join(_day(day) for day in mark.moved_from)
    return _("from %(before)s to %(day)s") % {"before": before, "day": _day(mark.day)}


def _span(span: Span) -> str:
    if span.first == span.last:
        return _day(span.first)
    return _("%(first)s to %(last)s") % {"first": _day(span.first), "last": _day(span.last)}


def _day(day: dt.date) -> str:
    return _day_in(day, get_language())


@lru_cache(maxsize=4_000)
def _day_in(day: dt.date, language: str | None) -> str:
    """A day in the language that is active: a page of a hundred lines names the same days many times."""
    return date_format(day, _("j M Y"))
