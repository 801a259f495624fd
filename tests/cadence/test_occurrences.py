"""Agreed dates on days on which both work, and what becomes of them when the interval changes."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import islice, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import (
    InvalidPeriod,
    Occurrence,
    Rule,
    Stretch,
    WorkingDays,
    changeover,
    common,
    course,
    occurrences,
)
from tests.cadence.strategies import rules, unhurried, working_days

WEEKDAYS = WorkingDays()
ENGLAND = WorkingDays(country="GB", subdivision="ENG")


def placed(rule: Rule, days: WorkingDays, after: date, until: date) -> list[Occurrence]:
    return list(occurrences(rule, days, after, until))


def test_a_date_on_a_day_off_moves_to_the_first_later_working_day() -> None:
    rule = Rule(2, "weeks", date(2026, 12, 14))
    assert placed(rule, ENGLAND, date(2026, 12, 1), date(2026, 12, 31)) == [
        Occurrence(date(2026, 12, 14), date(2026, 12, 14), "as agreed"),
        Occurrence(date(2026, 12, 28), date(2026, 12, 29), "shifted"),  # the day in lieu of Boxing Day
    ]


def test_a_date_that_would_reach_the_next_is_skipped_as_both_away() -> None:
    rule = Rule(1, "weeks", date(2026, 8, 3))
    away = WorkingDays(away=((date(2026, 8, 8), date(2026, 8, 16)),))
    assert [
        (found.day, found.state) for found in occurrences(rule, away, date(2026, 8, 1), date(2026, 8, 20))
    ] == [
        (date(2026, 8, 3), "as agreed"),
        (None, "both away"),
        (date(2026, 8, 17), "as agreed"),
    ]


def test_the_day_before_the_next_date_is_still_taken() -> None:
    rule = Rule(1, "weeks", date(2026, 8, 3))
    everyday = frozenset(range(1, 8))
    away = WorkingDays(everyday, away=((date(2026, 8, 10), date(2026, 8, 15)),))
    assert placed(rule, away, date(2026, 8, 9), date(2026, 8, 10)) == [
        Occurrence(date(2026, 8, 10), date(2026, 8, 16), "shifted")
    ]


def test_each_may_be_away_in_turn() -> None:
    one = WorkingDays(away=((date(2026, 8, 3), date(2026, 8, 5)),))
    other = WorkingDays(away=((date(2026, 8, 6), date(2026, 8, 7)),))
    rule = Rule(4, "weeks", date(2026, 8, 3))
    (found,) = occurrences(rule, common(one, other), date(2026, 8, 2), date(2026, 8, 3))
    assert found.day == date(2026, 8, 10)


def test_quarterly_on_the_31st_keeps_every_quarter_on_working_days() -> None:
    rule = Rule(3, "months", date(2026, 1, 31))
    found = occurrences(rule, WEEKDAYS, date(2026, 1, 1), date(2027, 1, 31))
    assert [(one.nominal, one.day) for one in found] == [
        (date(2026, 1, 31), date(2026, 2, 2)),
        (date(2026, 4, 30), date(2026, 4, 30)),
        (date(2026, 7, 31), date(2026, 7, 31)),
        (date(2026, 10, 31), date(2026, 11, 2)),
        (date(2027, 1, 31), date(2027, 2, 1)),
    ]


def test_the_last_working_day_stays_in_its_month() -> None:
    rule = Rule(1, "months", date(2026, 12, 1), last_working_day=True)
    away = WorkingDays(away=((date(2026, 12, 24), date(2026, 12, 31)),))
    (found,) = occurrences(rule, away, date(2026, 12, 1), date(2026, 12, 31))
    assert found == Occurrence(date(2026, 12, 31), date(2026, 12, 23), "shifted")


def test_the_last_working_day_follows_the_working_week() -> None:
    sunday_to_thursday = WorkingDays(frozenset({7, 1, 2, 3, 4}))
    rule = Rule(1, "months", date(2026, 5, 1), last_working_day=True)
    (found,) = occurrences(rule, sunday_to_thursday, date(2026, 5, 1), date(2026, 5, 31))
    assert found == Occurrence(date(2026, 5, 29), date(2026, 5, 31), "shifted")


def test_the_last_working_day_of_a_month_without_one_moves_on_before_the_next() -> None:
    quarterly = Rule(3, "months", date(2026, 3, 1), last_working_day=True)
    away = WorkingDays(away=((date(2026, 3, 1), date(2026, 4, 10)),))
    (found,) = occurrences(quarterly, away, date(2026, 3, 1), date(2026, 3, 31))
    assert found.day == date(2026, 4, 13)
    # In every month, the only working day of April is April's own.
    monthly = Rule(1, "months", date(2026, 3, 1), last_working_day=True)
    away = WorkingDays(
        away=((date(2026, 3, 1), date(2026, 4, 12)), (date(2026, 4, 14), date(2026, 4, 30))),
    )
    march, april = occurrences(monthly, away, date(2026, 3, 1), date(2026, 4, 30))
    assert (march.state, april.day) == ("both away", date(2026, 4, 13))


def test_the_last_working_day_may_be_the_first_of_the_month_but_not_before_the_anchor() -> None:
    away = WorkingDays(away=((date(2026, 12, 2), date(2027, 1, 10)),))
    for anchor, expected in ((date(2026, 12, 1), date(2026, 12, 1)), (date(2026, 12, 2), date(2027, 1, 11))):
        rule = Rule(3, "months", anchor, last_working_day=True)
        (found,) = occurrences(rule, away, date(2026, 12, 1), date(2026, 12, 31))
        assert (found.nominal, found.day) == (date(2026, 12, 31), expected)


def test_without_a_common_weekday_every_date_is_both_away() -> None:
    weekend = WorkingDays(frozenset({6, 7}))
    found = occurrences(
        Rule(1, "weeks", date(2026, 1, 5)), common(WEEKDAYS, weekend), date(2026, 1, 1), date(2026, 3, 1)
    )
    assert {one.state for one in found} == {"both away"}


def test_a_window_leaves_out_its_first_day_and_keeps_its_last() -> None:
    rule = Rule(1, "weeks", date(2026, 1, 5))
    found = placed(rule, WEEKDAYS, date(2026, 1, 5), date(2026, 1, 19))
    assert [one.nominal for one in found] == [date(2026, 1, 12), date(2026, 1, 19)]
    assert placed(rule, WEEKDAYS, date(2026, 1, 19), date(2026, 1, 18)) == []


# A change of interval.


def test_the_new_grid_starts_behind_the_open_coming_meeting() -> None:
    monthly = Rule(1, "months", date(2026, 1, 6), weekday=2, ordinal=1)
    coming = date(2026, 12, 1)
    fortnightly = Rule(2, "weeks", coming, weekday=3).restarted(coming)
    stretches = changeover((Stretch(monthly),), fortnightly, coming, coming)
    found = course(stretches, WEEKDAYS, date(2026, 10, 30), date(2027, 1, 20))
    assert [(place, one.nominal) for place, one in found] == [
        (0, date(2026, 11, 3)),
        (0, date(2026, 12, 1)),
        (1, date(2026, 12, 9)),
        (1, date(2026, 12, 23)),
        (1, date(2027, 1, 6)),
        (1, date(2027, 1, 20)),
    ]


def test_an_open_meeting_that_was_moved_keeps_its_place() -> None:
    weekly = Rule(1, "weeks", date(2026, 11, 2))
    # The meeting of Monday 7 December was moved to Friday 11 before the change.
    nominal, day = date(2026, 12, 7), date(2026, 12, 11)
    stretches = changeover((Stretch(weekly),), Rule(2, "weeks", day, weekday=1).restarted(day), nominal, day)
    found = [one.nominal for _, one in course(stretches, WEEKDAYS, date(2026, 12, 1), date(2027, 1, 10))]
    assert found == [nominal, date(2026, 12, 21), date(2027, 1, 4)]


def test_an_open_meeting_that_was_moved_forward_still_keeps_its_agreed_date_to_itself() -> None:
    weekly = Rule(1, "weeks", date(2026, 11, 2))
    # The meeting of Monday 7 December was moved to Friday 4; the new grid has the 7th too, and leaves it out.
    nominal, day = date(2026, 12, 7), date(2026, 12, 4)
    stretches = changeover((Stretch(weekly),), Rule(2, "weeks", nominal), nominal, day)
    found = [(place, one.nominal) for place, one in course(stretches, WEEKDAYS, day, date(2026, 12, 31))]
    assert found == [(0, nominal), (1, date(2026, 12, 21))]


def test_a_later_stretch_gives_no_date_before_it_takes_over_whatever_is_asked_for() -> None:
    weekly = Rule(1, "weeks", date(2026, 11, 2))
    stretches = changeover(
        (Stretch(weekly),), Rule(1, "weeks", date(2026, 11, 4)), date(2026, 12, 7), date(2026, 12, 7)
    )
    whole = list(course(stretches, WEEKDAYS, date(2026, 11, 1), date(2026, 12, 31)))
    for after in (date(2026, 11, 20), date(2026, 12, 7), date(2026, 12, 10)):
        later = [(place, one) for place, one in whole if one.nominal > after]
        assert list(course(stretches, WEEKDAYS, after, date(2026, 12, 31))) == later
    assert next(one.nominal for place, one in whole if place == 1) == date(2026, 12, 9)


def test_a_meeting_moved_over_an_agreed_date_that_had_itself_moved_doubles_nothing() -> None:
    weekly = Rule(1, "weeks", date(2026, 12, 21))
    # 28 December is a bank holiday, so its meeting would be on the 29th; the one before is moved to the 28th.
    nominal, day = date(2026, 12, 21), date(2026, 12, 28)
    stretches = changeover((Stretch(weekly),), Rule(1, "months", date(2027, 1, 15)), nominal, day)
    found = [one.nominal for _, one in course(stretches, ENGLAND, date(2026, 12, 1), date(2027, 2, 20))]
    assert found == [date(2026, 12, 21), date(2027, 1, 15), date(2027, 2, 15)]


def test_a_date_of_the_old_grid_never_moves_to_or_past_the_first_of_the_new() -> None:
    weekly, wednesdays = Rule(1, "weeks", date(2026, 12, 21)), Rule(4, "weeks", date(2026, 12, 30))
    away = WorkingDays(away=((date(2026, 12, 28), date(2026, 12, 29)),))
    stretches = changeover((Stretch(weekly),), wednesdays, date(2026, 12, 28), date(2026, 12, 28))
    found = [one for _, one in course(stretches, away, date(2026, 12, 21), date(2026, 12, 31))]
    assert [one.state for one in found] == ["both away", "as agreed"]


def test_a_new_last_working_day_never_moves_back_to_the_open_meeting() -> None:
    coming = date(2026, 12, 30)
    away = WorkingDays(away=((date(2026, 12, 31), date(2026, 12, 31)),))
    quarterly = Rule(3, "months", date(2026, 12, 1), last_working_day=True)
    stretches = changeover((Stretch(Rule(1, "weeks", date(2026, 11, 4))),), quarterly, coming, coming)
    found = [one.day for _, one in course(stretches, away, date(2026, 12, 24), date(2026, 12, 31))]
    assert found == [coming, date(2027, 1, 1)]


def test_an_old_last_working_day_never_moves_on_to_the_first_of_the_new_grid() -> None:
    sunday_to_thursday = WorkingDays(frozenset({7, 1, 2, 3, 4}))
    monthly = Rule(1, "months", date(2026, 5, 1), last_working_day=True)
    nominal = date(2026, 5, 29)  # a Friday; their last working day of May is Sunday 31
    cases = ((date(2026, 5, 31), ["both away", "as agreed"]), (date(2026, 6, 1), ["shifted", "as agreed"]))
    for first, states in cases:
        weekly = Rule(1, "weeks", first)
        stretches = changeover((Stretch(monthly),), weekly, nominal, nominal)
        found = list(course(stretches, sunday_to_thursday, date(2026, 5, 1), date(2026, 6, 2)))
        assert [one.state for _, one in found] == states


def test_a_last_stretch_that_ends_gives_its_last_date_and_no_more() -> None:
    stretches = (Stretch(Rule(1, "weeks", date(2026, 12, 14)), last=date(2026, 12, 28)),)
    found = [one.day for _, one in course(stretches, ENGLAND, date(2026, 12, 1), date(2027, 3, 1))]
    assert found == [date(2026, 12, 14), date(2026, 12, 21), date(2026, 12, 29)]


def test_stretches_out_of_order_are_refused() -> None:
    weekly = Rule(1, "weeks", date(2026, 1, 5))
    for stretches in (
        (Stretch(weekly), Stretch(weekly)),
        (Stretch(weekly, after=date(2026, 6, 1)), Stretch(weekly, after=date(2026, 5, 1))),
        (Stretch(weekly, last=date(2026, 6, 1)), Stretch(weekly, after=date(2026, 5, 1))),
    ):
        with pytest.raises(InvalidPeriod):
            list(course(stretches, WEEKDAYS, date(2026, 1, 1), date(2026, 12, 31)))


# Properties.


@st.composite
def lines(draw: st.DrawFn) -> tuple[Rule, WorkingDays]:
    rule = draw(rules())
    return rule, draw(working_days(rule.anchor))


YEAR_AND_A_HALF = timedelta(days=550)


@unhurried
@given(lines())
def test_days_strictly_increase_and_are_worked_by_both(line: tuple[Rule, WorkingDays]) -> None:
    rule, days = line
    found = placed(rule, days, rule.anchor - timedelta(days=1), rule.anchor + YEAR_AND_A_HALF)
    held = [one.day for one in found if one.day is not None]
    assert all(earlier < later for earlier, later in pairwise(held))
    assert all(days.works(day) for day in held)
    assert all(earlier.nominal < later.nominal for earlier, later in pairwise(found))
    assert all((one.day is None) == (one.state == "both away") for one in found)
    assert all((one.day == one.nominal) == (one.state == "as agreed") for one in found)


@unhurried
@given(lines())
def test_skipped_only_when_no_common_working_day_comes_before_the_next_date(
    line: tuple[Rule, WorkingDays],
) -> None:
    rule, days = line
    found = placed(rule, days, rule.anchor - timedelta(days=1), rule.anchor + 2 * YEAR_AND_A_HALF)
    for one, following in pairwise(found):
        limit = min(following.nominal, following.day or following.nominal)
        free = [day for day in span(one.nominal, limit) if days.works(day)]
        if one.day is None:
            assert free == []
        elif not rule.last_working_day:
            assert one.day == free[0]


@unhurried
@given(lines())
def test_the_last_working_day_is_the_last_of_its_month(line: tuple[Rule, WorkingDays]) -> None:
    anchor, days = line[0].anchor, line[1]
    rule = Rule(1, "months", anchor, last_working_day=True)
    for one in occurrences(rule, days, anchor - timedelta(days=1), anchor + YEAR_AND_A_HALF):
        month = span(max(one.nominal.replace(day=1), anchor), one.nominal + timedelta(days=4))
        worked = [day for day in month if day.month == one.nominal.month and days.works(day)]
        if worked:
            assert one.day == worked[-1]


@unhurried
@given(lines(), st.lists(st.integers(0, 550), min_size=1, max_size=4))
def test_asking_in_pieces_gives_what_asking_at_once_gives(
    line: tuple[Rule, WorkingDays], cuts: list[int]
) -> None:
    rule, days = line
    edges = [rule.anchor + timedelta(days=k) for k in sorted({-1, 550, *cuts})]
    pieces = [one for first, last in pairwise(edges) for one in occurrences(rule, days, first, last)]
    assert pieces == placed(rule, days, edges[0], edges[-1])


@unhurried
@given(rules(), st.integers(31, 4000))
def test_a_year_has_the_count_that_arithmetic_says(rule: Rule, ahead: int) -> None:
    everyday = WorkingDays(frozenset(range(1, 8)))
    start = rule.first + timedelta(days=ahead)
    if rule.unit == "weeks":
        found = placed(rule, everyday, start, start + timedelta(weeks=52))
        fewest, most = 52 // rule.every, -(-52 // rule.every)
    else:
        month = start.replace(day=1)
        year_later = month.replace(year=month.year + 1)
        found = placed(rule, everyday, month - timedelta(days=1), year_later - timedelta(days=1))
        each = 2 if rule.second_day else 1
        fewest, most = each * (12 // rule.every), each * -(-12 // rule.every)
        if rule.ordinal == 5:
            fewest, most = 4, 5
    assert fewest <= len(found) <= most


@unhurried
@given(lines(), rules(), st.integers(0, 5), st.integers(0, 300))
def test_a_change_of_interval_loses_and_doubles_no_meeting(
    line: tuple[Rule, WorkingDays], new: Rule, kept: int, moved: int
) -> None:
    old, days = line
    nominal, following = islice(old.dates_after(old.first - timedelta(days=1)), kept, kept + 2)
    day = nominal + timedelta(days=moved % (following - nominal).days)
    restarted = new.restarted(day)
    stretches = changeover((Stretch(old),), restarted, nominal, day)
    before = old.anchor - timedelta(days=1)
    found = list(course(stretches, days, before, restarted.first + YEAR_AND_A_HALF))
    assert [one.nominal for place, one in found if place == 0] == list(
        islice(old.dates_after(before), kept + 1)
    )
    assert [one.nominal for place, one in found if place == 1] == [
        date_
        for date_ in islice(restarted.dates_after(day), 90)
        if date_ <= restarted.first + YEAR_AND_A_HALF
    ]
    held = [one.day for _, one in found if one.day is not None]
    assert all(earlier < later for earlier, later in pairwise(held))
    assert restarted.first > day


@unhurried
@given(rules(), st.integers(0, 800))
def test_a_restarted_grid_begins_within_its_own_interval(rule: Rule, ahead: int) -> None:
    after = rule.anchor + timedelta(days=ahead)
    first = rule.restarted(after).first
    assert after < first
    assert first <= rule.restarted(after).allowed_until(after)


def span(first: date, until: date) -> list[date]:
    return [first + timedelta(days=k) for k in range((until - first).days)]
