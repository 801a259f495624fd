"""Moving one meeting, and telling which meeting a day was."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import (
    Claim,
    InvalidMove,
    Rule,
    WorkingDays,
    check_move,
    claimed,
    leaves_its_date,
    nearest_days,
)
from tests.cadence.strategies import unhurried, working_days

WANTED = date(2026, 12, 10)


def test_a_move_between_its_neighbours_is_accepted() -> None:
    check_move(date(2026, 12, 12), date(2026, 11, 26), date(2026, 12, 24))
    check_move(date(2026, 12, 12), None, None)


@pytest.mark.parametrize("to", [date(2026, 12, 24), date(2026, 12, 28)])
def test_a_move_to_or_past_the_next_meeting_is_refused_and_offers_to_call_one_off(to: date) -> None:
    with pytest.raises(InvalidMove) as refused:
        check_move(to, date(2026, 11, 26), date(2026, 12, 24))
    assert refused.value.field == "day"
    assert "2026-12-24" in refused.value.accepted
    assert "call one of the two off" in refused.value.accepted


@pytest.mark.parametrize("to", [date(2026, 11, 26), date(2026, 11, 1)])
def test_a_move_to_or_before_the_previous_meeting_is_refused(to: date) -> None:
    with pytest.raises(InvalidMove) as refused:
        check_move(to, date(2026, 11, 26), date(2026, 12, 24))
    assert "2026-11-26" in refused.value.accepted


def test_the_nearest_working_days_come_first_and_later_before_earlier() -> None:
    assert nearest_days(WANTED, WorkingDays(), date(2026, 11, 26), date(2026, 12, 24), most=4) == (
        WANTED,
        date(2026, 12, 11),
        date(2026, 12, 9),
        date(2026, 12, 8),
    )
    away = WorkingDays(away=((date(2026, 12, 9), date(2026, 12, 10)),))
    assert nearest_days(WANTED, away, date(2026, 12, 7), date(2026, 12, 14)) == (
        date(2026, 12, 11),
        date(2026, 12, 8),
    )
    assert nearest_days(WANTED, away, date(2026, 12, 8), date(2026, 12, 11)) == ()


@unhurried
@given(working_days(WANTED), st.integers(1, 30), st.integers(1, 30), st.integers(-40, 40), st.integers(1, 8))
def test_nearest_days_equal_sorting_every_day_between(
    person: WorkingDays, back: int, ahead: int, off: int, most: int
) -> None:
    after, before, wanted = WANTED - timedelta(back), WANTED + timedelta(ahead), WANTED + timedelta(off)
    between = [after + timedelta(k) for k in range(1, (before - after).days)]
    ordered = sorted(filter(person.works, between), key=lambda day: (abs(day - wanted), day < wanted))
    assert nearest_days(wanted, person, after, before, most) == tuple(ordered[:most])


@pytest.mark.parametrize(
    ("met", "claim"),
    [
        (date(2026, 12, 10), Claim(date(2026, 12, 10), True)),
        (date(2026, 12, 16), Claim(date(2026, 12, 10), True)),
        (
            date(2026, 12, 17),
            Claim(date(2026, 12, 10), False),
        ),  # equally near: the earlier one, and asked openly
        (date(2026, 12, 18), Claim(date(2026, 12, 24), True)),
        (date(2026, 11, 1), Claim(date(2026, 12, 10), False)),
    ],
)
def test_a_day_on_which_both_met_belongs_to_the_nearest_planned_meeting(met: date, claim: Claim) -> None:
    rule = Rule(2, "weeks", date(2026, 12, 10))
    assert claimed(met, [date(2026, 12, 24), date(2026, 12, 10)], rule) == claim


def test_without_a_planned_meeting_there_is_nothing_to_ask() -> None:
    assert claimed(WANTED, [], Rule(2, "weeks", WANTED)) is None


@pytest.mark.parametrize(
    ("every", "earlier", "leaves"),
    [
        (1, 3, False),
        (1, 4, True),
        (2, 6, False),
        (2, 7, True),
        (13, 6, False),
        (13, 7, True),
        (13, -9, False),
    ],
)
def test_a_meeting_leaves_its_date_a_week_or_more_than_half_an_interval_before_it(
    every: int, earlier: int, leaves: bool
) -> None:
    rule = Rule(every=every, unit="weeks", anchor=WANTED, weekday=WANTED.isoweekday())
    assert leaves_its_date(WANTED - timedelta(days=earlier), WANTED, rule) is leaves
