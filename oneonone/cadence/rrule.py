"""A rule as an RFC 5545 recurrence rule."""

from __future__ import annotations

from oneonone.cadence.rule import LAST, LONGEST_MONTH, SHORTEST_MONTH, Rule

CODES = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def to_rrule(rule: Rule) -> str:
    """The value of an RRULE (RFC 5545, 3.3.10) whose DTSTART is the rule's first date.

    A day that short months lack (29 and 30) is written as the last of the days up to it
    (BYSETPOS=-1), since BYMONTHDAY alone passes over those months. Only the agreed dates can be said:
    no recurrence rule knows on which days both work, so that the dates of `occurrences` have none.
    """
    frequency = "WEEKLY" if rule.unit == "weeks" else "MONTHLY"
    return f"FREQ={frequency};INTERVAL={rule.every};{_days(rule)}"


def _days(rule: Rule) -> str:
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
    if day == LONGEST_MONTH:
        return f"BYMONTHDAY={LAST}"
    if day > SHORTEST_MONTH:
        return f"BYMONTHDAY={_up_to(day)};BYSETPOS={LAST}"
    return f"BYMONTHDAY={day}"


def _two_days(first: int, second: int) -> str:
    if second == LONGEST_MONTH:
        return f"BYMONTHDAY={first},{LAST}"
    if second > SHORTEST_MONTH:
        return f"BYMONTHDAY={first},{_up_to(second)};BYSETPOS=1,{LAST}"
    return f"BYMONTHDAY={first},{second}"


def _up_to(day: int) -> str:
    return ",".join(str(number) for number in range(SHORTEST_MONTH, day + 1))
