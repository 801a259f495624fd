"""How often and when a line meets, in words that every page uses."""

from __future__ import annotations

from django.utils import formats
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.models import Interval

ORDINALS = {
    1: lambda: _("first"),
    2: lambda: _("second"),
    3: lambda: _("third"),
    4: lambda: _("fourth"),
    5: lambda: _("fifth"),
    -1: lambda: _("last"),
}
LAST_DAY = 31


def how_often(interval: Interval) -> str:
    """ "every 13 weeks", "every month"."""
    return every(interval.every, interval.unit)


def every(number: int, unit: str) -> str:
    """How often, from a number of weeks or months."""
    if unit == Interval.Unit.WEEKS:
        return ngettext("every week", "every %(n)d weeks", number) % {"n": number}
    return ngettext("every month", "every %(n)d months", number) % {"n": number}


def which_day(interval: Interval) -> str:
    """ "on Thursdays", "on the first Tuesday", "on day 15 of the month"."""
    if interval.weekday is not None:
        weekday = str(WEEKDAYS[interval.weekday - 1])
        if interval.ordinal is None:
            return _("on a %(weekday)s") % {"weekday": weekday}
        return _("on the %(ordinal)s %(weekday)s") % {
            "ordinal": ORDINALS[interval.ordinal](),
            "weekday": weekday,
        }
    if interval.last_working_day:
        return _("on the last working day of the month")
    days = [day for day in (interval.day, interval.second_day) if day is not None]
    said = [_("the last day") if day == LAST_DAY else _("day %(day)d") % {"day": day} for day in days]
    return _("on %(days)s of the month") % {"days": _(" and ").join(said)}


def interval_in_full(interval: Interval) -> str:
    """The interval in one sentence: how often, which day, when, how long, where."""
    said = _("%(often)s, %(day)s at %(time)s, %(minutes)d minutes") % {
        "often": how_often(interval),
        "day": which_day(interval),
        "time": formats.time_format(interval.time, "H:i"),
        "minutes": interval.minutes,
    }
    return f"{said}, {interval.place}" if interval.place else said
