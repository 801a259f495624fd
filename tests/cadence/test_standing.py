"""Standing on a day: within, runs out, over, never met, paused."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import islice, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.cadence import Agreement, InvalidPeriod, Pause, Rule, Standing, due_day, silence, standing
from tests.cadence.strategies import pauses, rules, unhurried

TODAY = date(2026, 11, 25)
BEGAN = date(2025, 1, 1)


def every(n: int, unit: str, anchor: date = date(2025, 1, 8)) -> Rule:
    return Rule(n, "weeks" if unit == "weeks" else "months", anchor)


def agreed(*rows: tuple[date, Rule]) -> list[Agreement]:
    return [Agreement(*row) for row in rows]


@pytest.mark.parametrize(
    ("rule", "last", "kind", "days", "silent"),
    [
        # Computed: 25 November is 42 days after 14 October, 28 past a fortnight.
        (every(2, "weeks"), date(2026, 10, 14), "over", 28, 42),
        (every(13, "weeks"), date(2026, 6, 17), "over", 70, 161),
        (every(1, "months"), date(2026, 9, 14), "over", 42, 72),
        (every(13, "weeks"), date(2026, 9, 2), "runs out", 7, 84),
        (every(13, "weeks"), date(2026, 9, 3), "within", 8, 83),
        (every(2, "weeks"), date(2026, 11, 15), "within", 4, 10),
        (every(6, "months"), date(2026, 10, 9), "within", 135, 47),
        (every(1, "months"), date(2026, 11, 5), "within", 10, 20),
        # On the last day it still is within the interval.
        (every(1, "months"), date(2026, 10, 25), "runs out", 0, 31),
        (every(1, "months"), date(2026, 10, 24), "over", 1, 32),
        (every(2, "weeks"), TODAY, "within", 14, 0),
    ],
)
def test_standing_by_the_last_meeting_held(rule: Rule, last: date, kind: str, days: int, silent: int) -> None:
    found = standing(agreed((BEGAN, rule)), [date(2025, 2, 1), last], BEGAN, TODAY)
    assert (found.kind, found.days, found.silence, found.last_held) == (kind, days, silent, last)


@pytest.mark.parametrize(
    ("rule", "runs_out_from"),
    [
        (every(1, "weeks"), 1),  # a quarter of 7 days, whole days
        (every(2, "weeks"), 3),
        (every(3, "weeks"), 5),
        (every(4, "weeks"), 7),
        (every(1, "months"), 7),
        (every(12, "months"), 7),
        (
            Rule(1, "months", date(2025, 1, 1), day=1, second_day=15),
            4,
        ),  # held on the 15th: 16 days to the 1st
    ],
)
def test_runs_out_is_said_a_week_or_a_quarter_of_the_interval_before_its_end(
    rule: Rule, runs_out_from: int
) -> None:
    last = date(2026, 10, 15)
    due = rule.allowed_until(last)
    kinds = [
        standing(agreed((BEGAN, rule)), [last], BEGAN, due - timedelta(days=left)).kind
        for left in range(runs_out_from + 2)
    ]
    assert kinds == ["runs out"] * (runs_out_from + 1) + ["within"]


def test_never_met_counts_days_since_the_line_began() -> None:
    began = date(2026, 11, 1)
    found = standing(agreed((began, every(1, "weeks"))), [], began, TODAY)
    assert found == Standing("never met", 24, 24, None, date(2026, 11, 8))


def test_a_planned_meeting_does_not_end_a_silence() -> None:
    rows = agreed((BEGAN, every(2, "weeks")))
    assert standing(rows, [date(2026, 10, 14), date(2026, 12, 1)], BEGAN, TODAY).kind == "over"
    assert standing(rows, [date(2026, 12, 1)], BEGAN, TODAY).kind == "never met"


def test_the_order_of_meetings_held_does_not_matter() -> None:
    rows, held = agreed((BEGAN, every(2, "weeks"))), [date(2026, 11, 20), date(2026, 3, 1), date(2026, 9, 1)]
    assert standing(rows, held, BEGAN, TODAY) == standing(rows, sorted(held), BEGAN, TODAY)


def test_an_extra_meeting_ends_the_silence_and_moves_no_date() -> None:
    rule = every(2, "weeks")
    found = standing(agreed((BEGAN, rule)), [date(2026, 10, 14), date(2026, 11, 24)], BEGAN, TODAY)
    assert (found.kind, found.due) == ("within", date(2026, 12, 8))
    assert rule.next_after(TODAY) == date(2026, 12, 9)


# Changes of interval.


def test_a_longer_interval_is_counted_from_the_last_meeting() -> None:
    rows = agreed((BEGAN, every(2, "weeks")), (date(2026, 11, 20), every(3, "months")))
    held = [date(2026, 10, 14)]
    assert standing(rows, held, BEGAN, date(2026, 11, 19)).kind == "over"
    found = standing(rows, held, BEGAN, date(2026, 11, 20))
    assert (found.kind, found.due) == ("within", date(2027, 1, 14))


def test_a_shorter_interval_is_not_held_against_the_days_before_it() -> None:
    rows = agreed((BEGAN, every(3, "months")), (date(2026, 11, 20), every(2, "weeks")))
    held = [date(2026, 10, 1)]
    assert standing(rows, held, BEGAN, date(2026, 11, 19)).due == date(2027, 1, 1)
    on_the_day = standing(rows, held, BEGAN, date(2026, 11, 20))
    assert (on_the_day.kind, on_the_day.due) == ("within", date(2026, 12, 4))
    assert standing(rows, held, BEGAN, date(2026, 12, 5)).kind == "over"


def test_a_shorter_interval_gives_no_longer_than_the_one_it_replaced() -> None:
    rows = agreed((BEGAN, every(4, "weeks")), (date(2026, 11, 20), every(2, "weeks")))
    assert due_day(rows, date(2026, 11, 1), TODAY) == date(2026, 11, 29)  # not 4 December
    # What was over stays over.
    assert due_day(rows, date(2026, 10, 1), TODAY) == date(2026, 10, 29)


def test_after_the_next_meeting_only_the_new_interval_counts() -> None:
    rows = agreed((BEGAN, every(3, "months")), (date(2026, 11, 2), every(2, "weeks")))
    assert due_day(rows, date(2026, 11, 3), TODAY) == date(2026, 11, 17)


def test_an_agreement_of_later_is_not_yet_judged_by() -> None:
    rows = agreed((BEGAN, every(2, "weeks")), (date(2026, 12, 1), every(3, "months")))
    assert standing(rows, [date(2026, 10, 14)], BEGAN, TODAY).days == 28


def test_a_meeting_held_before_anything_was_agreed_is_judged_from_the_agreement() -> None:
    rows = agreed((date(2026, 11, 20), every(2, "weeks")))
    assert due_day(rows, date(2026, 10, 1), TODAY) == date(2026, 12, 4)
    assert due_day(rows, date(2026, 10, 1), date(2026, 11, 19)) is None
    assert standing([], [date(2026, 10, 1)], BEGAN, TODAY) == Standing(
        "within", 0, 55, date(2026, 10, 1), None
    )


# Pauses.


def test_in_a_pause_the_standing_says_so() -> None:
    rows = agreed((BEGAN, every(2, "weeks")))
    held = [date(2026, 10, 14)]
    found = standing(rows, held, BEGAN, TODAY, [Pause(date(2026, 10, 20), date(2026, 12, 31))])
    # Five days counted before the pause, nine left after it.
    assert found == Standing("paused", 36, 5, date(2026, 10, 14), date(2027, 1, 9))
    open_end = standing(rows, held, BEGAN, TODAY, [Pause(date(2026, 10, 20))])
    assert (open_end.kind, open_end.due) == ("paused", None)
    assert standing(rows, [], date(2026, 11, 1), TODAY, [Pause(TODAY)]).kind == "paused"


def test_after_a_pause_counting_goes_on_where_it_stopped() -> None:
    rows = agreed((BEGAN, every(2, "weeks")))
    rest = [Pause(date(2026, 10, 20), date(2026, 11, 15))]
    found = standing(rows, [date(2026, 10, 14)], BEGAN, TODAY, rest)
    assert found == Standing("over", 1, 15, date(2026, 10, 14), date(2026, 11, 24))


def test_a_pause_that_begins_after_the_interval_ended_forgives_nothing() -> None:
    rows = agreed((BEGAN, every(2, "weeks")))
    rest = [Pause(date(2026, 11, 1), date(2026, 11, 20))]
    found = standing(rows, [date(2026, 10, 14)], BEGAN, TODAY, rest)
    assert (found.kind, found.due, found.silence) == ("over", date(2026, 10, 28), 22)
    assert found.days == 8  # 29 to 31 October and 21 to 25 November


def test_pauses_that_overlap_or_touch_are_one() -> None:
    rest = [Pause(date(2026, 11, 10), date(2026, 11, 12)), Pause(date(2026, 11, 1), date(2026, 11, 11))]
    touching = [Pause(date(2026, 11, 1), date(2026, 11, 5)), Pause(date(2026, 11, 6), date(2026, 11, 12))]
    one = [Pause(date(2026, 11, 1), date(2026, 11, 12))]
    rows = agreed((BEGAN, every(2, "weeks")))
    for pauses_ in (rest, touching, one, [*one, Pause(date(2026, 11, 3), date(2026, 11, 4))]):
        assert silence([date(2026, 10, 31)], BEGAN, TODAY, pauses_) == 13
        found = standing(rows, [date(2026, 10, 31)], BEGAN, date(2026, 11, 11), pauses_)
        assert (found.kind, found.days) == ("paused", 10)


def test_a_pause_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(InvalidPeriod) as refused:
        Pause(date(2026, 11, 2), date(2026, 11, 1))
    assert refused.value.field == "last"


# Properties.


@unhurried
@given(rules(), st.integers(0, 6))
def test_a_line_that_meets_on_exactly_its_agreed_dates_is_never_over(rule: Rule, n: int) -> None:
    held = list(islice(rule.dates_after(rule.first - timedelta(days=1)), n + 2))
    rows = [Agreement(rule.first, rule)]
    for before, following in pairwise(held):
        for day in {before, following - timedelta(days=1)}:
            known = [one for one in held if one <= day]
            assert standing(rows, known, rule.first, day).kind in {"within", "runs out"}
        assert due_day(rows, before, following) >= following  # type: ignore[operator]  # an agreement is in force


@unhurried
@given(rules(), st.integers(0, 500), st.data())
def test_pauses_never_bring_the_due_day_nearer_and_count_for_what_they_last(
    rule: Rule, ahead: int, data: st.DataObject
) -> None:
    basis = rule.anchor
    rest = data.draw(pauses(basis))
    rows = [Agreement(basis, rule)]
    plain, moved = due_day(rows, basis, basis), due_day(rows, basis, basis, rest)
    assert plain is not None
    if moved is None:
        assert any(pause.last is None for pause in rest)
        return
    paused = [
        day
        for k in range((moved - basis).days)
        if any(p.first <= (day := basis + timedelta(days=k + 1)) <= (p.last or date.max) for p in rest)
    ]
    assert (moved - plain).days == len(paused)
    assert moved not in paused or moved == plain
    assert silence([basis], basis, moved, rest) == (plain - basis).days


@unhurried
@given(st.lists(st.tuples(st.integers(0, 400), rules()), min_size=1, max_size=4), st.integers(0, 500))
def test_a_new_agreement_alone_never_puts_a_line_over(changes: list[tuple[int, Rule]], ahead: int) -> None:
    rows = [Agreement(date(2026, 1, 1) + timedelta(days=k), rule) for k, rule in changes]
    basis = date(2026, 1, 1) + timedelta(days=ahead)
    for row in rows:
        eve = row.effective_from - timedelta(days=1)
        if eve <= basis or len([r for r in rows if r.effective_from == row.effective_from]) > 1:
            continue
        before, after = due_day(rows, basis, eve), due_day(rows, basis, row.effective_from)
        assert after is not None
        if before is None or before >= row.effective_from:
            assert after >= row.effective_from
        assert before is None or after >= before or after >= row.effective_from
