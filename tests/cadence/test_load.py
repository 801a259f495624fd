"""What an interval costs a week, against counting dates over the whole cycle of the calendar."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest

from oneonone.cadence import Rule, minutes_a_week

CYCLE = timedelta(days=146_097)  # 400 Gregorian years, 20,871 weeks


@pytest.mark.parametrize(
    "rule",
    [
        Rule(1, "weeks", date(2000, 1, 3)),
        Rule(9, "weeks", date(2000, 1, 3)),
        Rule(1, "months", date(2000, 1, 31)),
        Rule(3, "months", date(2000, 1, 1), weekday=2, ordinal=1),
        Rule(12, "months", date(2000, 1, 1), last_working_day=True),
        Rule(1, "months", date(2000, 1, 1), day=1, second_day=15),
        Rule(1, "months", date(2000, 1, 1), weekday=3, ordinal=5),
    ],
)
def test_minutes_a_week_equal_the_dates_of_400_years(rule: Rule) -> None:
    counted = 0
    for day in rule.dates_after(date(1999, 12, 31)):
        if day >= date(2000, 1, 1) + CYCLE:
            break
        counted += 1
    assert minutes_a_week(rule, 45) == Fraction(counted * 45, 20_871)


def test_intervals_that_are_easy_to_say() -> None:
    assert minutes_a_week(Rule(2, "weeks", date(2026, 1, 1)), 60) == 30
    assert minutes_a_week(Rule(13, "weeks", date(2026, 1, 1)), 60) == Fraction(60, 13)
    assert float(minutes_a_week(Rule(1, "months", date(2026, 1, 1)), 60)) == pytest.approx(13.799, abs=0.001)
