"""The meeting time that an interval takes."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from oneonone.cadence.rule import FIFTH, Rule, weekdays_in

# The Gregorian calendar repeats after 400 years, which are a whole number of weeks.
CYCLE_MONTHS = 4800
CYCLE_WEEKS = 20871
CYCLE_START = 2000 * 12


def minutes_a_week(rule: Rule, minutes: int) -> Fraction:
    """The mean minutes a week that meetings of a length cost at an interval, before days off.

    Exact over the 400 years of the calendar: a month is 4.348125 weeks.
    """
    if rule.unit == "weeks":
        return Fraction(minutes, rule.every)
    dates = Fraction(CYCLE_MONTHS, rule.every)
    if rule.second_day is not None:
        dates *= 2
    elif rule.ordinal == FIFTH and rule.weekday is not None:
        dates = Fraction(fifth_weekdays(rule.weekday))
    return dates * minutes / CYCLE_WEEKS


@lru_cache(maxsize=7)
def fifth_weekdays(weekday: int) -> int:
    """How many months of the 400 years have a fifth of that weekday."""
    months = range(CYCLE_START, CYCLE_START + CYCLE_MONTHS)
    return sum(len(weekdays_in(month, weekday, FIFTH)) for month in months)
