"""Silences, the longest of them, the share within the interval and the days past it, over a period."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import (
    Agreement,
    InvalidPeriod,
    Pause,
    Rule,
    Share,
    Silence,
    longest_silence,
    past_interval,
    share_within,
    silence,
    silences,
    standing,
)
from tests.cadence.strategies import pauses, rules, unhurried

BEGAN = date(2026, 1, 5)
FORTNIGHTLY = [Agreement(BEGAN, Rule(2, "weeks", BEGAN))]
FIRST, LAST = date(2026, 1, 1), date(2026, 3, 31)


def test_silence_on_a_day() -> None:
    held = [date(2026, 1, 19), date(2026, 2, 10)]
    assert silence(held, BEGAN, date(2026, 1, 10)) == 5
    assert silence(held, BEGAN, date(2026, 2, 9)) == 21
    assert silence(held, BEGAN, date(2026, 2, 10)) == 0
    assert silence(held, BEGAN, date(2026, 2, 15), [Pause(date(2026, 2, 12), date(2026, 2, 13))]) == 3


def test_silences_run_from_meeting_to_meeting_and_to_the_end_of_the_period() -> None:
    held = [date(2026, 2, 10), date(2026, 1, 19), date(2026, 4, 1)]
    assert silences(held, BEGAN, FIRST, LAST) == (
        Silence(BEGAN, date(2026, 1, 19), 14),
        Silence(date(2026, 1, 19), date(2026, 2, 10), 22),
        Silence(date(2026, 2, 10), LAST, 49),
    )
    # One that began before the period is counted whole; one that ended on its first day is not in it.
    assert silences(held, BEGAN, date(2026, 2, 9), date(2026, 2, 12)) == (
        Silence(date(2026, 1, 19), date(2026, 2, 10), 22),
        Silence(date(2026, 2, 10), date(2026, 2, 12), 2),
    )
    assert silences(held, BEGAN, date(2026, 2, 10), date(2026, 2, 10)) == ()
    # A meeting on the period's last day leaves no silence after it.
    assert silences(held, BEGAN, FIRST, date(2026, 2, 10))[-1].last == date(2026, 2, 10)
    assert len(silences(held, BEGAN, FIRST, date(2026, 2, 10))) == 2
    assert silences([], BEGAN, date(2025, 1, 1), date(2025, 12, 31)) == ()


def test_a_meeting_held_before_the_line_began_is_where_counting_starts() -> None:
    held = [date(2025, 12, 20), date(2026, 1, 12)]
    assert silences(held, BEGAN, FIRST, date(2026, 1, 20)) == (
        Silence(date(2025, 12, 20), date(2026, 1, 12), 23),
        Silence(date(2026, 1, 12), date(2026, 1, 20), 8),
    )
    assert share_within(FORTNIGHTLY, held, BEGAN, date(2025, 12, 1), date(2026, 1, 20)) == Share(2, 2)


def test_the_longest_silence_leaves_pauses_out() -> None:
    held = [date(2026, 1, 19), date(2026, 2, 10)]
    found = longest_silence(held, BEGAN, FIRST, LAST)
    assert found == Silence(date(2026, 2, 10), LAST, 49)
    rest = [Pause(date(2026, 2, 11), date(2026, 3, 25))]
    assert longest_silence(held, BEGAN, FIRST, LAST, rest) == Silence(
        date(2026, 1, 19), date(2026, 2, 10), 22
    )
    assert longest_silence([], BEGAN, date(2025, 1, 1), date(2025, 12, 31)) is None


def test_the_share_within_the_interval() -> None:
    held = [date(2026, 1, 19), date(2026, 2, 3), date(2026, 2, 10), date(2026, 2, 24)]
    # 3 February came 15 days after 19 January; the other three within 14.
    assert share_within(FORTNIGHTLY, held, BEGAN, FIRST, LAST) == Share(3, 4)
    assert share_within(FORTNIGHTLY, held, BEGAN, date(2026, 2, 1), date(2026, 2, 9)) == Share(0, 1)
    assert share_within(FORTNIGHTLY, [], BEGAN, FIRST, LAST) == Share(0, 0)
    assert share_within(
        FORTNIGHTLY, held, BEGAN, FIRST, LAST, [Pause(date(2026, 1, 25), date(2026, 1, 25))]
    ) == Share(4, 4)


def test_a_past_meeting_is_judged_by_the_interval_agreed_then() -> None:
    rows = [*FORTNIGHTLY, Agreement(date(2026, 2, 1), Rule(2, "months", BEGAN))]
    held = [date(2026, 1, 19), date(2026, 3, 10)]
    assert share_within(rows, held, BEGAN, FIRST, LAST) == Share(2, 2)
    assert share_within(FORTNIGHTLY, held, BEGAN, FIRST, LAST) == Share(1, 2)
    # Of the silence in January, the days under the old interval; none was over before the change.
    assert past_interval(rows, [], BEGAN, FIRST, date(2026, 2, 10)) == (
        (date(2026, 1, 20), date(2026, 1, 31)),
    )


def test_days_past_two_agreed_intervals_are_one_stretch() -> None:
    rows = [*FORTNIGHTLY, Agreement(date(2026, 2, 10), Rule(3, "weeks", BEGAN))]
    assert past_interval(rows, [], BEGAN, FIRST, LAST) == ((date(2026, 1, 20), LAST),)


def test_days_past_the_interval_end_before_the_meeting_that_ends_them() -> None:
    held = [date(2026, 1, 19), date(2026, 2, 10)]
    assert past_interval(FORTNIGHTLY, held, BEGAN, FIRST, LAST) == (
        (date(2026, 2, 3), date(2026, 2, 9)),
        (date(2026, 2, 25), LAST),
    )


def test_days_of_a_pause_are_not_past_the_interval() -> None:
    rest = [Pause(date(2026, 3, 1), date(2026, 3, 10))]
    assert past_interval(FORTNIGHTLY, [date(2026, 2, 10)], BEGAN, date(2026, 2, 1), LAST, rest) == (
        (date(2026, 2, 1), date(2026, 2, 9)),
        (date(2026, 2, 25), date(2026, 2, 28)),
        (date(2026, 3, 11), LAST),
    )


def test_a_period_out_of_order_is_refused() -> None:
    for act in (
        lambda: silences([], BEGAN, LAST, FIRST),
        lambda: share_within(FORTNIGHTLY, [], BEGAN, LAST, FIRST),
        lambda: past_interval(FORTNIGHTLY, [], BEGAN, LAST, FIRST),
    ):
        with pytest.raises(InvalidPeriod):
            act()


@st.composite
def histories(draw: st.DrawFn) -> tuple[list[Agreement], list[date], tuple[Pause, ...]]:
    offsets = draw(st.lists(st.integers(0, 300), unique=True, max_size=3))
    rows = [Agreement(BEGAN, draw(rules()))]
    rows += [Agreement(BEGAN + timedelta(days=k + 1), draw(rules())) for k in offsets]
    held = [BEGAN + timedelta(days=k) for k in draw(st.frozensets(st.integers(0, 400), max_size=12))]
    return rows, held, draw(pauses(BEGAN))


@unhurried
@given(histories(), st.integers(0, 200), st.integers(0, 200))
def test_days_past_the_interval_are_those_on_which_the_standing_was_over(
    history: tuple[list[Agreement], list[date], tuple[Pause, ...]], start: int, length: int
) -> None:
    rows, held, rest = history
    first = BEGAN + timedelta(days=start)
    last = first + timedelta(days=length)
    found = past_interval(rows, held, BEGAN, first, last, rest)
    shown = {begins + timedelta(days=k) for begins, ends in found for k in range((ends - begins).days + 1)}
    expected = set()
    for k in range(length + 1):
        day = first + timedelta(days=k)
        then = standing(rows, held, BEGAN, day, rest)
        overdue = then.due is not None and day > then.due and then.kind != "paused"
        if overdue:
            expected.add(day)
            assert then.kind in {"over", "never met"}
    assert shown == expected
    assert all(one[1] + timedelta(days=1) < other[0] for one, other in pairwise(found))


@unhurried
@given(histories(), st.integers(0, 300))
def test_the_longest_silence_is_the_longest_seen_on_any_day(
    history: tuple[list[Agreement], list[date], tuple[Pause, ...]], length: int
) -> None:
    _, held, rest = history
    last = BEGAN + timedelta(days=length)
    found = longest_silence(held, BEGAN, BEGAN, last, rest)
    met = set(held)
    days = [BEGAN + timedelta(days=k) for k in range(length + 1)]
    # A meeting ends its silence on its own day, which still counts: it is not yet among those held before.
    lengths = [silence([one for one in held if one < day], BEGAN, day, rest) for day in days]
    assert (found.days if found else 0) == max(lengths)
    assert found is None or found.first in met | {BEGAN}


@unhurried
@given(histories(), st.integers(0, 300), st.integers(0, 200))
def test_the_share_counts_each_meeting_of_the_period_once(
    history: tuple[list[Agreement], list[date], tuple[Pause, ...]], start: int, length: int
) -> None:
    rows, held, rest = history
    first, last = BEGAN + timedelta(days=start), BEGAN + timedelta(days=start + length)
    found = share_within(rows, held, BEGAN, first, last, rest)
    assert found.held == len({day for day in held if first <= day <= last})
    assert 0 <= found.within <= found.held
