"""Words inside a line: moments, people, the standing of a line."""

from datetime import date, datetime, time, tzinfo
from zoneinfo import ZoneInfo

from django.template import TemplateSyntaxError
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from oneonone.templatetags.elements.registry import Values, element, one_of


def _in_zone(value: datetime, zone: tzinfo | str | None) -> datetime:
    if timezone.is_naive(value):
        raise TemplateSyntaxError("a moment shown to a reader must know its zone")
    return timezone.localtime(value, ZoneInfo(zone) if isinstance(zone, str) and zone else zone or None)


def _pattern(form: str) -> str:
    patterns = {
        "day": pgettext("date format", "l j F"),
        "day_year": pgettext("date format", "l j F Y"),
        "short": pgettext("date format", "j M"),
        "short_year": pgettext("date format", "j M Y"),
        "clock": pgettext("time format", "H:i"),
        "moment": pgettext("date and time format", "l j F, H:i"),
        "moment_year": pgettext("date and time format", "l j F Y, H:i"),
    }
    return patterns[one_of(form, tuple(patterns), "form")]


@element
def moment(
    value: datetime | date | time | None, form: str = "", *, zone: tzinfo | str | None = None
) -> Values:
    """A day, a clock time or both, as people say it, in ``zone`` or else in the reader's; nothing for None.

    ``form``: "day" (Thursday 3 December), "day_year", "short" (3 Dec), "short_year", "clock" (10:00),
    "moment" (Thursday 3 December, 10:00), "moment_year". Without it: "clock" for a time, "day" for a day, and
    else "moment".
    """
    if value is None:
        return {"machine": "", "words": ""}
    if isinstance(value, datetime):
        local = _in_zone(value, zone)
        machine = local.isoformat(timespec="minutes")
        return {"machine": machine, "words": date_format(local, _pattern(form or "moment"))}
    if isinstance(value, time):
        machine = value.isoformat(timespec="minutes")
        return {"machine": machine, "words": time_format(value, _pattern(form or "clock"))}
    return {"machine": value.isoformat(), "words": date_format(value, _pattern(form or "day"))}


@element
def person(name: str, *, you: bool = False, begins: bool = False) -> Values:
    """A person's name, or "you" to themselves ("You" where it ``begins`` a sentence)."""
    if not you:
        return {"words": name}
    return {"words": pgettext("begins a sentence", "You") if begins else _("you")}


@element
def standing(kind: str, *, days: int = 0) -> Values:
    """A line's cadence today: "within", "runs-out" and "over" (``days``), "never-met", "paused"."""
    words = {
        "within": _("within"),
        "runs-out": _runs_out(days),
        "over": ngettext("%(days)d day overdue", "%(days)d days overdue", days) % {"days": days},
        "never-met": _("never met"),
        "paused": _("paused"),
    }
    return {"words": words[one_of(kind, tuple(words), "kind")]}


def _runs_out(days: int) -> str:
    if days == 0:
        return _("runs out today")
    return ngettext("runs out in %(days)d day", "runs out in %(days)d days", days) % {"days": days}
