"""Working days, against numpy's business days and published calendars."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import (
    InvalidWorkingDays,
    NoWorkingDay,
    UnknownCountry,
    UnknownSubdivision,
    WorkingDays,
    closed,
    common,
    countries,
    holidays_for,
)
from tests.cadence.strategies import days, unhurried, weekdays, working_days

MONDAY_TO_FRIDAY = WorkingDays()
WEDNESDAY = date(2026, 11, 25)


def calendar(person: WorkingDays, until: date) -> np.busdaycalendar:
    """The same working days for numpy, which knows weeks and single days off."""
    away = [
        first + timedelta(days=k)
        for first, last in person.away
        for k in range((min(last, until) - first).days + 1)
    ]
    return np.busdaycalendar(
        weekmask=[weekday in person.week for weekday in range(1, 8)],
        holidays=np.array(sorted(person.holidays | set(away)), dtype="datetime64[D]"),
    )


@unhurried
@given(working_days(), days, st.integers(-25, 25).filter(bool))
def test_adding_equals_numpy_busday_offset(person: WorkingDays, day: date, n: int) -> None:
    expected = np.busday_offset(
        np.datetime64(day),
        n,
        # From a day off, numpy rolls first: away from the direction, so that the first step counts.
        roll="backward" if n > 0 else "forward",
        busdaycal=calendar(person, date(2040, 1, 1)),
    )
    assert np.datetime64(person.add(day, n)) == expected


@unhurried
@given(working_days(), days, st.integers(0, 400))
def test_counting_equals_numpy_busday_count(person: WorkingDays, day: date, length: int) -> None:
    until = day + timedelta(days=length)
    counted = np.busday_count(
        np.datetime64(day), np.datetime64(until), busdaycal=calendar(person, date(2040, 1, 1))
    )
    assert person.count(day, until) == counted


@unhurried
@given(working_days(), days)
def test_a_day_works_as_numpy_says(person: WorkingDays, day: date) -> None:
    assert person.works(day) == np.is_busday(np.datetime64(day), busdaycal=calendar(person, date(2040, 1, 1)))


@unhurried
@given(working_days(), working_days(), days)
def test_common_days_are_those_on_which_both_work(one: WorkingDays, other: WorkingDays, day: date) -> None:
    assert common(one, other).works(day) == (one.works(day) and other.works(day))
    assert common(one, other).works(day) == common(other, one).works(day)


@pytest.mark.parametrize(
    ("day", "n", "found"),
    [
        # Computed with numpy 2.4, Monday to Friday, no holidays.
        (WEDNESDAY, 10, date(2026, 12, 9)),
        (WEDNESDAY, 5, date(2026, 12, 2)),
        (WEDNESDAY, -5, date(2026, 11, 18)),
        (date(2026, 11, 30), -2, date(2026, 11, 26)),
        (date(2026, 11, 28), 1, date(2026, 11, 30)),  # from a Saturday
        (date(2026, 11, 28), -1, date(2026, 11, 27)),
        (date(2026, 11, 28), 0, date(2026, 11, 28)),
    ],
)
def test_working_days_before_and_after(day: date, n: int, found: date) -> None:
    assert MONDAY_TO_FRIDAY.add(day, n) == found


def test_a_company_closing_day_a_holiday_and_a_day_away_are_not_worked() -> None:
    quay = closed(
        WorkingDays(country="GB", subdivision="SCT", away=((date(2026, 12, 28), date(2026, 12, 29)),)),
        [date(2026, 12, 24)],
    )
    assert [quay.works(date(2026, 12, day)) for day in (23, 24, 25, 26, 28, 29, 30, 31)] == [
        *(True, False, False, False),
        *(False, False, True, True),
    ]
    assert quay.add(date(2026, 12, 23), 1) == date(2026, 12, 30)
    assert not quay.works(date(2027, 1, 4))  # 2 January is a Saturday: a day in lieu in Scotland


def test_two_countries_and_two_weeks_have_their_own_common_days() -> None:
    london = WorkingDays(country="GB", subdivision="ENG")
    new_york = WorkingDays(country="US", subdivision="NY", week=frozenset({1, 2, 4, 5}))
    both = common(london, new_york)
    assert not both.works(date(2026, 11, 26))  # Thanksgiving
    assert not both.works(date(2026, 8, 31))  # the late summer bank holiday
    assert not both.works(WEDNESDAY)
    assert both.weekdays == {1, 2, 4, 5}
    assert both.add(WEDNESDAY, 1) == date(2026, 11, 27)


@pytest.mark.parametrize(
    ("country", "subdivision", "expected"),
    [
        # gov.uk/bank-holidays, England and Wales and Scotland, 2026, recalled from memory.
        ("GB", "ENG", ["1-1", "4-3", "4-6", "5-4", "5-25", "8-31", "12-25", "12-28"]),
        ("GB", "SCT", ["1-1", "1-2", "4-3", "5-4", "5-25", "8-3", "11-30", "12-25", "12-28"]),
    ],
)
def test_bank_holidays_with_days_in_lieu(country: str, subdivision: str, expected: list[str]) -> None:
    found = {
        f"{day.month}-{day.day}" for day in holidays_for(country, subdivision, [2026]) if day.isoweekday() < 6
    }
    assert set(expected) <= found
    assert len(found - set(expected)) <= 1  # the library may know of a day proclaimed for one year only


def test_a_day_in_lieu_may_lie_in_the_year_before() -> None:
    # 1 January 2022 was a Saturday: federal offices were closed on Friday (opm.gov, recalled from memory).
    assert date(2021, 12, 31) in holidays_for("US", None, [2021])
    assert not WorkingDays(country="US").works(date(2021, 12, 31))


def test_holidays_of_several_years_are_those_of_each() -> None:
    both = holidays_for("DE", "BY", range(2026, 2028))
    assert both == holidays_for("DE", "BY", [2026]) | holidays_for("DE", "BY", [2027])
    assert {day.year for day in both} == {2026, 2027}
    assert holidays_for("DE", "BY", []) == frozenset()


def test_a_part_of_a_country_may_have_more_holidays() -> None:
    assert date(2026, 1, 6) in holidays_for("DE", "BY", [2026])
    assert date(2026, 1, 6) not in holidays_for("DE", None, [2026])


@pytest.mark.parametrize("country", ["XX", "gb", "", "GBR", "United Kingdom"])
def test_an_unknown_country_is_refused_with_what_is_accepted(country: str) -> None:
    for act in (lambda: holidays_for(country, None, [2026]), lambda: WorkingDays(country=country)):
        with pytest.raises(UnknownCountry) as refused:
            act()
        assert refused.value.field == "country"
        assert "GB" in refused.value.accepted


def test_an_unknown_part_of_a_country_is_refused_with_what_is_accepted() -> None:
    with pytest.raises(UnknownSubdivision) as refused:
        holidays_for("GB", "ZZ", [2026])
    assert (refused.value.field, refused.value.accepted) == ("subdivision", "for GB: ENG, NIR, SCT, WLS")
    with pytest.raises(UnknownSubdivision):
        WorkingDays(subdivision="ENG")


def test_every_offered_country_is_looked_up_without_a_warning() -> None:
    found = {country: holidays_for(country, None, [2026]) for country in countries()}
    assert {country for country, days_off in found.items() if not days_off} <= {"BV", "HM", "IO", "UA"}
    assert len(found) > 200


@pytest.mark.parametrize("week", [frozenset[int](), frozenset({0}), frozenset({1, 8})])
def test_a_week_that_is_none_is_refused(week: frozenset[int]) -> None:
    with pytest.raises(InvalidWorkingDays) as refused:
        WorkingDays(week)
    assert refused.value.field == "week"


def test_days_away_that_end_before_they_begin_are_refused() -> None:
    with pytest.raises(InvalidWorkingDays) as refused:
        WorkingDays(away=((date(2026, 12, 2), date(2026, 12, 1)),))
    assert refused.value.field == "away"


def test_weeks_without_a_common_day_are_said_to_have_none() -> None:
    with pytest.raises(NoWorkingDay):
        common(WorkingDays(frozenset({6, 7})), MONDAY_TO_FRIDAY).add(WEDNESDAY, 1)


@unhurried
@given(weekdays)
def test_away_for_ever_ends_the_search(weekday: int) -> None:
    gone = WorkingDays(frozenset({weekday}), away=((date(2026, 1, 1), date(2200, 1, 1)),))
    with pytest.raises(NoWorkingDay):
        gone.add(WEDNESDAY, 1)
