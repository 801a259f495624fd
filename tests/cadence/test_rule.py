"""The grid of dates an interval gives, against the examples of RFC 5545 and computed ones."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import islice, pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import InvalidRule, Rule, add_months
from tests.cadence.strategies import rules, unhurried


def first_dates(rule: Rule, n: int) -> list[date]:
    return list(islice(rule.dates_after(rule.first - timedelta(days=1)), n))


def days(year: int, *texts: str) -> list[date]:
    """Dates written as month-day, the year going up where the month goes back."""
    found: list[date] = []
    for text in texts:
        month, day = map(int, text.split("-"))
        if found and month < found[-1].month:
            year += 1
        found.append(date(year, month, day))
    return found


RFC_5545_3_8_5_3 = [
    (
        "every other week",
        Rule(2, "weeks", date(1997, 9, 2)),
        days(
            1997,
            *("9-2", "9-16", "9-30", "10-14", "10-28", "11-11", "11-25"),
            *("12-9", "12-23", "1-6", "1-20", "2-3", "2-17"),
        ),
    ),
    (
        "weekly for ten occurrences",
        Rule(1, "weeks", date(1997, 9, 2)),
        days(1997, "9-2", "9-9", "9-16", "9-23", "9-30", "10-7", "10-14", "10-21", "10-28", "11-4"),
    ),
    (
        "monthly on the first Friday for ten occurrences",
        Rule(1, "months", date(1997, 9, 5), weekday=5, ordinal=1),
        days(1997, "9-5", "10-3", "11-7", "12-5", "1-2", "2-6", "3-6", "4-3", "5-1", "6-5"),
    ),
    (
        "monthly on the 2nd and 15th for ten occurrences",
        Rule(1, "months", date(1997, 9, 2), day=2, second_day=15),
        days(1997, "9-2", "9-15", "10-2", "10-15", "11-2", "11-15", "12-2", "12-15", "1-2", "1-15"),
    ),
    (
        "the last work day of the month, the form of 3.3.10",
        Rule(1, "months", date(1997, 9, 30), last_working_day=True),
        days(1997, "9-30", "10-31", "11-28", "12-31", "1-30", "2-27", "3-31", "4-30"),
    ),
]


@pytest.mark.parametrize(
    ("rule", "dates"), [pytest.param(*case[1:], id=case[0]) for case in RFC_5545_3_8_5_3]
)
def test_examples_of_rfc_5545_3_8_5_3(rule: Rule, dates: list[date]) -> None:
    assert first_dates(rule, len(dates)) == dates


# Computed with dateutil 2.9.0.
COMPUTED = [
    (
        "fortnightly, autumn",
        Rule(2, "weeks", date(2026, 10, 14)),
        days(2026, "10-14", "10-28", "11-11", "11-25", "12-9"),
    ),
    (
        "every 3 months on the first Tuesday",
        Rule(3, "months", date(2026, 1, 6), weekday=2, ordinal=1),
        days(2026, "1-6", "4-7", "7-7", "10-6", "1-5", "4-6"),
    ),
    (
        "last working day of 2026's months",
        Rule(1, "months", date(2026, 1, 1), last_working_day=True),
        days(
            2026,
            *("1-30", "2-27", "3-31", "4-30", "5-29", "6-30"),
            *("7-31", "8-31", "9-30", "10-30", "11-30", "12-31"),
        ),
    ),
    (
        "last Friday of 2026's months",
        Rule(1, "months", date(2026, 1, 1), weekday=5, ordinal=-1),
        days(
            2026,
            *("1-30", "2-27", "3-27", "4-24", "5-29", "6-26"),
            *("7-31", "8-28", "9-25", "10-30", "11-27", "12-25"),
        ),
    ),
    (
        "fifth Wednesday, passing over months without one",
        Rule(1, "months", date(2026, 4, 29), weekday=3, ordinal=5),
        days(2026, "4-29", "7-29", "9-30", "12-30", "3-31"),
    ),
]


@pytest.mark.parametrize(("rule", "dates"), [pytest.param(*case[1:], id=case[0]) for case in COMPUTED])
def test_computed_examples(rule: Rule, dates: list[date]) -> None:
    assert first_dates(rule, len(dates)) == dates


@pytest.mark.parametrize(
    ("rule", "dates"),
    [
        # BYMONTHDAY=31 alone would lose April, and every six months from 31 March all of September.
        (Rule(3, "months", date(2026, 1, 31)), days(2026, "1-31", "4-30", "7-31", "10-31", "1-31")),
        (Rule(6, "months", date(2026, 3, 31)), days(2026, "3-31", "9-30", "3-31", "9-30")),
        (Rule(1, "months", date(2026, 1, 29)), days(2026, "1-29", "2-28", "3-29", "4-29")),
        (Rule(1, "months", date(2028, 1, 30)), days(2028, "1-30", "2-29", "3-30", "4-30")),
        (Rule(12, "months", date(2024, 2, 29)), days(2024, "2-29") + days(2025, "2-28") + days(2026, "2-28")),
    ],
)
def test_the_end_of_short_months_loses_no_month(rule: Rule, dates: list[date]) -> None:
    assert first_dates(rule, len(dates)) == dates


def test_the_day_after_a_short_month_is_the_agreed_one_again() -> None:
    assert first_dates(Rule(1, "months", date(2026, 1, 31)), 3)[-1] == date(2026, 3, 31)


def test_two_dates_a_month() -> None:
    rule = Rule(1, "months", date(2026, 1, 10), day=1, second_day=15)
    assert first_dates(rule, 4) == days(2026, "1-15", "2-1", "2-15", "3-1")
    ends = Rule(1, "months", date(2026, 1, 10), day=31, second_day=15)
    assert first_dates(ends, 4) == days(2026, "1-15", "1-31", "2-15", "2-28")


def test_every_four_weeks_is_not_every_month() -> None:
    first, year_later = date(2026, 1, 5), date(2026, 1, 5) + timedelta(weeks=52)
    weeks = [day for day in first_dates(Rule(4, "weeks", first), 20) if day < year_later]
    months = [day for day in first_dates(Rule(1, "months", first), 20) if day < year_later]
    assert (len(weeks), len(months)) == (13, 12)


def test_a_year_of_53_weeks_changes_nothing() -> None:
    # ISO 8601 by RFC 5545: week 1 is the first with at least four days in the year. 2026 has 53 weeks.
    assert date(2026, 12, 31).isocalendar()[:2] == (2026, 53)
    fortnightly = first_dates(Rule(2, "weeks", date(2026, 1, 7)), 28)
    assert sum(day.year == 2026 for day in fortnightly) == 26
    assert [day for day in fortnightly if day.year == 2026][-1] == date(2026, 12, 23)
    assert {(b - a).days for a, b in pairwise(fortnightly)} == {14}
    # Counting odd weeks instead would meet in 2026-W53 and again the week after, in 2027-W01.
    assert (date(2026, 12, 30).isocalendar().week, date(2027, 1, 6).isocalendar().week) == (53, 1)
    assert date(2026, 12, 30) not in fortnightly
    assert date(2027, 1, 6) in fortnightly


@pytest.mark.parametrize(
    ("day", "week"),
    [
        # Computed from the rule in RFC 5545, 3.3.10: weeks start on Monday, week 1 has at least four days.
        (date(2005, 1, 1), (2004, 53, 6)),
        (date(2005, 12, 31), (2005, 52, 6)),
        (date(2007, 12, 31), (2008, 1, 1)),
        (date(2008, 12, 29), (2009, 1, 1)),
        (date(2010, 1, 3), (2009, 53, 7)),
        (date(2018, 12, 31), (2019, 1, 1)),
        (date(2026, 12, 31), (2026, 53, 4)),
        (date(2027, 1, 3), (2026, 53, 7)),
        (date(2027, 1, 4), (2027, 1, 1)),
    ],
)
def test_a_weekly_grid_crosses_the_turn_of_iso_years_without_a_jump(
    day: date, week: tuple[int, int, int]
) -> None:
    rule = Rule(1, "weeks", day - timedelta(weeks=10))
    assert day in first_dates(rule, 11)
    assert rule.next_after(day) == day + timedelta(weeks=1)
    assert tuple(day.isocalendar()) == week


def test_thursdays_of_2026() -> None:
    assert sum(day.year == 2026 for day in first_dates(Rule(1, "weeks", date(2026, 1, 1)), 60)) == 53


def test_the_weekday_moves_the_first_date_on_from_the_anchor() -> None:
    rule = Rule(2, "weeks", date(2026, 11, 25), weekday=2)  # a Wednesday, and Tuesdays wanted
    assert first_dates(rule, 2) == days(2026, "12-1", "12-15")


def test_a_grid_in_months_is_counted_from_its_first_date() -> None:
    rule = Rule(3, "months", date(2026, 1, 15), day=10)
    assert first_dates(rule, 2) == days(2026, "2-10", "5-10")


def test_dates_after_a_day_leave_out_that_day() -> None:
    rule = Rule(2, "weeks", date(2026, 10, 14))
    assert rule.next_after(date(2026, 10, 28)) == date(2026, 11, 11)
    assert rule.next_after(date(2026, 10, 27)) == date(2026, 10, 28)
    assert rule.next_after(date(2020, 1, 1)) == date(2026, 10, 14)


@pytest.mark.parametrize(
    "rule", [Rule(1, "weeks", date(2199, 12, 31)), Rule(1, "months", date(2199, 12, 31))]
)
def test_the_dates_end_with_the_calendar_and_not_in_an_error(rule: Rule) -> None:
    *_, last = rule.dates_after(date(9998, 12, 31))
    assert date.max - last < timedelta(days=7)


def test_months_later_is_the_same_day_or_the_last() -> None:
    assert add_months(date(2026, 1, 31), 1) == date(2026, 2, 28)
    assert add_months(date(2026, 11, 30), 3) == date(2027, 2, 28)
    assert add_months(date(2026, 12, 15), 12) == date(2027, 12, 15)
    assert add_months(date(2024, 2, 29), 12) == date(2025, 2, 28)


@unhurried
@given(rules(), st.integers(0, 40))
def test_the_next_agreed_date_is_always_within_the_interval(rule: Rule, n: int) -> None:
    one, following = islice(rule.dates_after(rule.first - timedelta(days=1)), n, n + 2)
    assert following <= rule.allowed_until(one) <= following + timedelta(days=15)


@pytest.mark.parametrize(
    ("rule", "day", "until"),
    [
        (Rule(13, "weeks", date(2026, 1, 5)), date(2026, 9, 2), date(2026, 12, 2)),
        (Rule(1, "months", date(2026, 1, 14)), date(2026, 9, 14), date(2026, 10, 14)),
        # The same day of the month, whatever the grid does in between.
        (Rule(1, "months", date(2026, 1, 20)), date(2026, 9, 14), date(2026, 10, 14)),
        (Rule(6, "months", date(2026, 1, 31)), date(2026, 8, 31), date(2027, 2, 28)),
        # Last Mondays are 22 February and 29 March 2027.
        (Rule(1, "months", date(2026, 1, 1), weekday=1, ordinal=-1), date(2027, 2, 22), date(2027, 3, 29)),
        (Rule(1, "months", date(2026, 1, 31)), date(2027, 2, 28), date(2027, 3, 31)),
        # A first date agreed for long after the interval's end does not stretch it.
        (Rule(1, "months", date(2027, 3, 1), day=1), date(2026, 11, 25), date(2026, 12, 25)),
        (Rule(1, "months", date(2026, 1, 1), day=1, second_day=15), date(2026, 11, 15), date(2026, 12, 1)),
        (Rule(1, "months", date(2026, 1, 1), day=1, second_day=15), date(2026, 11, 20), date(2026, 12, 5)),
        (Rule(1, "months", date(2026, 1, 1), weekday=3, ordinal=5), date(2026, 9, 30), date(2026, 12, 30)),
    ],
)
def test_the_last_day_within_the_interval(rule: Rule, day: date, until: date) -> None:
    assert rule.allowed_until(day) == until


@pytest.mark.parametrize(
    ("rule", "long"),
    [
        (Rule(3, "weeks", date(2026, 1, 5)), False),
        (Rule(4, "weeks", date(2026, 1, 5)), True),
        (Rule(1, "months", date(2026, 1, 5)), True),
        (Rule(1, "months", date(2026, 1, 5), day=1, second_day=15), False),
    ],
)
def test_four_weeks_or_more(rule: Rule, long: bool) -> None:
    assert rule.is_four_weeks_or_more is long


@pytest.mark.parametrize(
    ("rule", "after", "first"),
    [
        # The latest Wednesday that keeps two weeks counted from Thursday 3 December.
        (Rule(2, "weeks", date(2026, 1, 7)), date(2026, 12, 3), date(2026, 12, 16)),
        (Rule(2, "weeks", date(2026, 1, 7), weekday=4), date(2026, 12, 3), date(2026, 12, 17)),
        # 2 March is within three months of 3 December; the first Tuesday in April would not be.
        (Rule(3, "months", date(2026, 1, 6), weekday=2, ordinal=1), date(2026, 12, 3), date(2027, 3, 2)),
        (Rule(1, "months", date(2026, 1, 31)), date(2026, 12, 3), date(2026, 12, 31)),
        (Rule(12, "months", date(2026, 1, 31)), date(2026, 12, 3), date(2027, 11, 30)),
        # No fifth Monday within a month of 3 December: the next there is.
        (Rule(1, "months", date(2026, 3, 30), weekday=1, ordinal=5), date(2026, 12, 3), date(2027, 3, 29)),
        (Rule(1, "months", date(2026, 1, 1), day=1, second_day=15), date(2026, 12, 3), date(2026, 12, 15)),
        (Rule(6, "months", date(2026, 1, 1), last_working_day=True), date(2026, 12, 3), date(2027, 5, 31)),
    ],
)
def test_a_restarted_grid_keeps_its_pattern_and_the_interval(rule: Rule, after: date, first: date) -> None:
    restarted = rule.restarted(after)
    assert restarted.first == first
    assert (restarted.every, restarted.unit) == (rule.every, rule.unit)


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"every": 0}, "every"),
        ({"every": 53}, "every"),
        ({"every": 13, "unit": "months"}, "every"),
        ({"unit": "days"}, "unit"),
        ({"anchor": date(20, 6, 1)}, "anchor"),
        ({"anchor": date(2300, 1, 1)}, "anchor"),
        ({"weekday": 0}, "weekday"),
        ({"weekday": 8}, "weekday"),
        ({"ordinal": 1}, "ordinal"),
        ({"day": 5}, "day"),
        ({"second_day": 5}, "second_day"),
        ({"last_working_day": True}, "last_working_day"),
        ({"unit": "months", "weekday": 1}, "ordinal"),
        ({"unit": "months", "ordinal": 1}, "weekday"),
        ({"unit": "months", "weekday": 1, "ordinal": 6}, "ordinal"),
        ({"unit": "months", "weekday": 1, "ordinal": 0}, "ordinal"),
        ({"unit": "months", "weekday": 1, "ordinal": -2}, "ordinal"),
        ({"unit": "months", "every": 3, "weekday": 1, "ordinal": 5}, "ordinal"),
        ({"unit": "months", "day": 0}, "day"),
        ({"unit": "months", "day": 32}, "day"),
        ({"unit": "months", "day": 1, "weekday": 1, "ordinal": 1}, "day"),
        ({"unit": "months", "day": 1, "last_working_day": True}, "day"),
        ({"unit": "months", "second_day": 15}, "second_day"),
        ({"unit": "months", "every": 2, "day": 1, "second_day": 15}, "second_day"),
        ({"unit": "months", "day": 15, "second_day": 15}, "second_day"),
        ({"unit": "months", "day": 15, "second_day": 32}, "second_day"),
        ({"unit": "months", "day": 1, "second_day": 31}, "second_day"),  # one day apart at the month's end
        ({"unit": "months", "day": 24, "second_day": 31}, "second_day"),  # four days apart in February
    ],
)
def test_what_describes_no_grid_is_refused_by_field(fields: dict[str, Any], field: str) -> None:
    usual: dict[str, Any] = {"every": 1, "unit": "weeks", "anchor": date(2026, 1, 5)}
    with pytest.raises(InvalidRule) as refused:
        Rule(**usual | fields)
    assert refused.value.field == field
    assert refused.value.accepted


def test_the_widest_of_everything_is_accepted() -> None:
    assert Rule(52, "weeks", date(1900, 1, 1), weekday=7).first == date(1900, 1, 7)
    assert Rule(12, "months", date(2199, 12, 31), day=1).first == date(2200, 1, 1)


def test_two_dates_a_week_apart_are_accepted() -> None:
    assert Rule(1, "months", date(2026, 1, 5), day=8, second_day=31).second_day == 31
    assert Rule(1, "months", date(2026, 1, 5), day=1, second_day=22).second_day == 22
