"""What RFC 5545 can say of a rule, expanded by another library, is what the rule itself gives."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

import pytest
from dateutil.rrule import rrulestr
from hypothesis import given

from oneonone.cadence import Rule, start_instant, to_rrule
from tests.cadence.strategies import rules, unhurried


def expanded(rule: Rule, n: int) -> list[date]:
    start = datetime.combine(rule.first, time())
    return [found.date() for found in islice(rrulestr(to_rrule(rule), dtstart=start), n)]


@unhurried
@given(rules())
def test_dates_equal_the_expansion_by_dateutil(rule: Rule) -> None:
    ours = list(islice(rule.dates_after(rule.first - timedelta(days=1)), 40))
    assert ours == expanded(rule, 40)


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        (Rule(2, "weeks", date(2026, 10, 14)), "FREQ=WEEKLY;INTERVAL=2;BYDAY=WE"),
        (Rule(3, "months", date(2026, 1, 6), weekday=2, ordinal=1), "FREQ=MONTHLY;INTERVAL=3;BYDAY=1TU"),
        (Rule(1, "months", date(2026, 1, 6), weekday=5, ordinal=-1), "FREQ=MONTHLY;INTERVAL=1;BYDAY=-1FR"),
        (Rule(3, "months", date(2026, 1, 31)), "FREQ=MONTHLY;INTERVAL=3;BYMONTHDAY=-1"),
        (Rule(1, "months", date(2026, 1, 30)), "FREQ=MONTHLY;INTERVAL=1;BYMONTHDAY=28,29,30;BYSETPOS=-1"),
        (Rule(6, "months", date(2026, 1, 14)), "FREQ=MONTHLY;INTERVAL=6;BYMONTHDAY=14"),
        (
            Rule(1, "months", date(2026, 1, 1), last_working_day=True),
            "FREQ=MONTHLY;INTERVAL=1;BYDAY=MO,TU,WE,TH,FR;BYSETPOS=-1",
        ),
        (
            Rule(1, "months", date(2026, 1, 1), day=30, second_day=15),
            "FREQ=MONTHLY;INTERVAL=1;BYMONTHDAY=15,28,29,30;BYSETPOS=1,-1",
        ),
    ],
)
def test_the_text_is_a_recurrence_rule(rule: Rule, text: str) -> None:
    assert to_rrule(rule) == text


@pytest.mark.parametrize(
    ("zone", "rule", "at", "hours"),
    [
        # RFC 5545, 3.8.5.3, America/New_York 09:00: EDT (UTC-4) up to 25 October 1997, EST (UTC-5) after.
        ("America/New_York", Rule(1, "weeks", date(1997, 9, 2)), time(9), [13] * 8 + [14] * 2),
        # 1997: Sep 5, Oct 3 (EDT); Nov 7 to Apr 3 (EST); May 1, Jun 5 (EDT).
        (
            "America/New_York",
            Rule(1, "months", date(1997, 9, 5), weekday=5, ordinal=1),
            time(9),
            [13, 13, 14, 14, 14, 14, 14, 14, 13, 13],
        ),
        # Computed with dateutil 2.9.0 and zoneinfo.
        ("Europe/London", Rule(2, "weeks", date(2026, 10, 14)), time(10), [9, 10, 10, 10, 10]),
        ("Europe/London", Rule(2, "weeks", date(2027, 3, 17)), time(10), [10, 9, 9, 9]),
        ("America/New_York", Rule(2, "weeks", date(2027, 3, 2)), time(9), [14, 13, 13, 13]),
        ("Australia/Sydney", Rule(2, "weeks", date(2026, 9, 23)), time(9, 30), [23, 22, 22, 22]),
        (
            "Europe/London",
            Rule(3, "months", date(2026, 1, 6), weekday=2, ordinal=1),
            time(9),
            [9, 8, 8, 8, 9, 8],
        ),
    ],
)
def test_local_time_stays_across_clock_changes(zone: str, rule: Rule, at: time, hours: list[int]) -> None:
    start = datetime.combine(rule.first, at, tzinfo=ZoneInfo(zone))
    instants = [
        found.astimezone(UTC) for found in islice(rrulestr(to_rrule(rule), dtstart=start), len(hours))
    ]
    ours = [
        start_instant(day, at, zone)
        for day in islice(rule.dates_after(rule.first - timedelta(days=1)), len(hours))
    ]
    assert ours == instants
    assert [instant.hour for instant in ours] == hours
