"""Repetitions begun again before the window give what following them from their first date gives."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from dateutil.rrule import rrulestr
from hypothesis import given, settings
from hypothesis import strategies as st

from oneonone.calendars.recurrence import Budget, starts
from oneonone.calendars.refusals import TooManyTimes

AFTER = dt.datetime.combine(dt.date(2026, 11, 25), dt.time())
BEFORE = dt.datetime.combine(dt.date(2027, 3, 1), dt.time())
DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


@st.composite
def rules(draw: st.DrawFn) -> dict[str, Any]:
    """Rules as calendar programs write them, and stranger ones."""
    frequency = draw(st.sampled_from(("DAILY", "WEEKLY", "MONTHLY", "YEARLY")))
    rule: dict[str, Any] = {"FREQ": [frequency], "INTERVAL": [draw(st.integers(1, 6))]}
    weekdays = st.lists(st.sampled_from(DAYS), min_size=1, max_size=3, unique=True)
    if frequency == "WEEKLY" and draw(st.booleans()):
        rule |= {"BYDAY": draw(weekdays), "WKST": [draw(st.sampled_from(("MO", "SU")))]}
    if frequency in ("MONTHLY", "YEARLY"):
        kind = draw(st.sampled_from(("plain", "days", "ordinal", "set")))
        if kind == "days":
            rule["BYMONTHDAY"] = draw(
                st.lists(st.sampled_from((1, 15, 28, 29, 31, -1)), min_size=1, max_size=2)
            )
        if kind == "ordinal":
            rule["BYDAY"] = [f"{draw(st.sampled_from((1, 2, 4, 5, -1)))}{draw(st.sampled_from(DAYS))}"]
        if kind == "set":
            rule |= {"BYDAY": list(DAYS[:5]), "BYSETPOS": [draw(st.sampled_from((1, 2, -1, -2)))]}
        if frequency == "YEARLY" and kind != "plain":
            rule["BYMONTH"] = draw(st.lists(st.integers(1, 12), min_size=1, max_size=3, unique=True))
    if draw(st.booleans()):
        rule["COUNT"] = [draw(st.integers(1, 400))]
    return rule


def text_of(rule: dict[str, Any]) -> str:
    return ";".join(f"{name}={','.join(str(value) for value in values)}" for name, values in rule.items())


@settings(max_examples=400, deadline=None)
@given(rules(), st.dates(dt.date(1995, 1, 1), dt.date(2027, 2, 1)))
def test_as_if_followed_from_the_first_date(rule: dict[str, Any], first: dt.date) -> None:
    begun = dt.datetime.combine(first, dt.time(9, 30))
    # The referee has no bound of its own: a rule without dates would keep it busy to the year 9999.
    plain = rrulestr(text_of(rule), dtstart=begun)
    expected = [start for start in plain.xafter(AFTER, count=100, inc=True) if start <= BEFORE]
    assert list(starts(rule, begun, after=AFTER, before=BEFORE, budget=Budget())) == expected


def test_a_rule_without_dates_ends_with_its_budget() -> None:
    rule = {"FREQ": ["DAILY"], "BYMONTH": [2], "BYMONTHDAY": [30]}
    budget = Budget(5_000)
    with pytest.raises(TooManyTimes):
        list(starts(rule, AFTER, after=AFTER, before=BEFORE, budget=budget))
    assert budget.left == -1


def test_the_budget_is_one_for_all_rules_of_a_file() -> None:
    budget = Budget(150)
    rule = {"FREQ": ["DAILY"]}
    assert len(list(starts(rule, AFTER, after=AFTER, before=BEFORE, budget=budget))) == 97
    with pytest.raises(TooManyTimes):
        list(starts(rule, AFTER, after=AFTER, before=BEFORE, budget=budget))
