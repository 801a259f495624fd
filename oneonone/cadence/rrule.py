"""A rule as an RFC 5545 recurrence rule, where that standard can say it."""

from __future__ import annotations

from oneonone.cadence.rule import LAST, Rule

CODES = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def to_rrule(rule: Rule) -> str | None:
    """The value of an RRULE whose DTSTART is the rule's first date; None where RFC 5545 cannot say it.

    A day that short months lack (29 to 31) is written as the last of the days up to it
    (BYSETPOS=-1), since BYMONTHDAY alone passes over those months (RFC 5545, 3.3.10). Two dates a
    month of which one is such a day have no single RRULE. The dates are nominal: no recurrence rule
    knows the days on which both work.
    """
    frequency = "WEEKLY" if rule.unit == "weeks" else "MONTHLY"
    days = _days(rule)
    if days is None:
        return None
    return f"FREQ={frequency};INTERVAL={rule.every};{days}"


def _days(rule: Rule) -> str | None:
    if rule.unit == "weeks":
        return f"BYDAY={CODES[rule.first.isoweekday() - 1]}"
    if rule.last_working_day:
        return f"BYDAY={','.join(CODES[:5])};BYSETPOS={LAST}"
    if rule.weekday is not None:
        return f"BYDAY={rule.ordinal}{CODES[rule.weekday - 1]}"
    day = rule.day or rule.anchor.day
    if rule.second_day is not None:
        return _two_days(*sorted((day, rule.second_day)))
    return _one_day(day)


def _one_day(day: int) -> str:
    if day == 31:
        return f"BYMONTHDAY={LAST}"
    if day > 28:
        return f"BYMONTHDAY={','.join(str(number) for number in range(28, day + 1))};BYSETPOS={LAST}"
    return f"BYMONTHDAY={day}"


def _two_days(first: int, second: int) -> str | None:
    if second == 31:
        return f"BYMONTHDAY={first},{LAST}"
    return f"BYMONTHDAY={first},{second}" if second <= 28 else None
