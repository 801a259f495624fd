"""The meeting time of a manager's intervals, in words."""

from __future__ import annotations

from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from oneonone.selectors.cadence.load import Load


def load_words(load: Load) -> str:
    """Say how much time the manager's one-on-ones take a week."""
    if not load.lines:
        return _("You have no reports here yet.")
    return ngettext(
        "Your one-on-ones with your report take %(time)s a week on average, not counting days off.",
        "Your one-on-ones with your %(n)d reports take %(time)s a week on average, not counting days off.",
        load.lines,
    ) % {"n": load.lines, "time": span(load.minutes_a_week)}


def preview_words(others: Load, cost: Fraction) -> str:
    """Say how much time a new or changed interval would take, and the new sum."""
    return _("This one would take %(cost)s a week; together with your other one-on-ones %(sum)s.") % {
        "cost": span(cost),
        "sum": span(others.minutes_a_week + cost),
    }


def span(minutes: Fraction) -> str:
    """Hours and minutes, rounded to the minute; less than half a minute is less than one."""
    whole = round(minutes)
    if not whole and minutes:
        return _("less than a minute")
    hours, rest = divmod(whole, 60)
    if hours:
        return _("%(hours)d h %(minutes)d min") % {"hours": hours, "minutes": rest}
    return _("%(minutes)d min") % {"minutes": rest}
