"""Rules, working days and days for the properties of the cadence."""

from __future__ import annotations

from datetime import date, time, timedelta

from hypothesis import settings
from hypothesis import strategies as st

from oneonone.cadence import InvalidRule, Pause, Rule, WorkingDays

# A slow machine is no fault of the arithmetic.
unhurried = settings(deadline=None)

days = st.dates(date(2020, 1, 1), date(2035, 12, 31))
weekdays = st.integers(1, 7)
# Zones of both hemispheres, of half an hour, of no change, and of a change at midnight.
zones = st.sampled_from(
    [
        "Europe/London",
        "America/New_York",
        "Australia/Sydney",
        "Australia/Lord_Howe",
        "America/Santiago",
        "America/Havana",
        "Asia/Kathmandu",
        "Pacific/Apia",
        "Africa/Casablanca",
        "UTC",
    ]
)
times = st.times().map(lambda at: time(at.hour, at.minute))


@st.composite
def rules(draw: st.DrawFn) -> Rule:
    anchor = draw(days)
    if draw(st.booleans()):
        return Rule(draw(st.integers(1, 52)), "weeks", anchor, weekday=draw(st.none() | weekdays))
    every = draw(st.integers(1, 12))
    way = draw(st.sampled_from(["anchor", "day", "weekday", "last working day", "two days"]))
    if way == "weekday":
        ordinals = [1, 2, 3, 4, -1, *([5] if every == 1 else [])]
        return Rule(every, "months", anchor, weekday=draw(weekdays), ordinal=draw(st.sampled_from(ordinals)))
    if way == "last working day":
        return Rule(every, "months", anchor, last_working_day=True)
    if way == "two days":
        return draw(two_days_a_month)(anchor)
    return Rule(every, "months", anchor, day=draw(st.integers(1, 31)) if way == "day" else None)


def accepted(pair: tuple[int, int]) -> bool:
    try:
        Rule(1, "months", date(2026, 1, 1), day=pair[0], second_day=pair[1])
    except InvalidRule:
        return False
    return True


PAIRS = [(a, b) for a in range(1, 32) for b in range(1, 32) if accepted((a, b))]
two_days_a_month = st.sampled_from(PAIRS).map(
    lambda pair: lambda anchor: Rule(1, "months", anchor, day=pair[0], second_day=pair[1])
)


@st.composite
def spans(draw: st.DrawFn, longest: int = 120) -> tuple[date, date]:
    first = draw(days)
    return first, first + timedelta(days=draw(st.integers(0, longest)))


@st.composite
def spans_near(draw: st.DrawFn, day: date, longest: int = 150) -> tuple[date, date]:
    first = day + timedelta(days=draw(st.integers(-100, 700)))
    return first, first + timedelta(days=draw(st.integers(0, longest)))


@st.composite
def working_days(draw: st.DrawFn, near: date = date(2026, 1, 1)) -> WorkingDays:
    week = draw(st.frozensets(weekdays, min_size=1, max_size=7))
    offsets = draw(st.frozensets(st.integers(-100, 700), max_size=30))
    away = draw(st.lists(spans_near(near), max_size=3))
    return WorkingDays(week, frozenset(near + timedelta(days=k) for k in offsets), tuple(away))


@st.composite
def pauses(draw: st.DrawFn, near: date) -> tuple[Pause, ...]:
    found = [Pause(*span) for span in draw(st.lists(spans_near(near, 90), max_size=3))]
    if draw(st.booleans()) and draw(st.booleans()):
        found.append(Pause(near + timedelta(days=draw(st.integers(0, 700)))))
    return tuple(found)
