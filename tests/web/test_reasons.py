"""Every reason the planner can give has a sentence, and every sentence can be filled."""

from __future__ import annotations

import datetime as dt
import string
from fractions import Fraction

import pytest

from oneonone.models import Meeting
from oneonone.planner.reasons import ENGLISH
from oneonone.selectors.order import Why
from oneonone.web import reasons

MEETING = Meeting(starts_at=dt.datetime(2026, 7, 2, 9, 0, tzinfo=dt.UTC), zone="Europe/London", minutes=50)
CLOCK = reasons.clock_of(MEETING)


def why(code: str) -> Why:
    """A reason with the numbers and names that the planner's own sentence asks for."""
    wanted = [name for _text, name, _spec, _conversion in string.Formatter().parse(ENGLISH[code]) if name]
    numbers = {name: 13 for name in wanted if not name.startswith("key")}
    return Why(code=code, numbers=numbers, names=("Radio procedure",))


def test_the_sentences_are_those_of_the_planners_codes() -> None:
    assert set(reasons.SENTENCES) == set(ENGLISH)
    assert set(reasons.IN_SHORT) <= set(ENGLISH)


@pytest.mark.parametrize("code", sorted(ENGLISH))
def test_a_reason_is_said_in_whole_words(code: str) -> None:
    for said in (reasons.sentence(why(code), CLOCK), reasons.in_short(why(code), CLOCK)):
        assert said.endswith(".")
        assert "%" not in said
        assert "13" in said or "Radio" in said or not why(code).numbers or code in reasons.IN_SHORT


def test_a_start_is_said_by_the_clock_of_the_zone_it_was_agreed_in() -> None:
    # Nine o'clock UTC in July is ten o'clock in London (British Summer Time, UTC+1).
    agreed = Why(code="agreed_slot", numbers={"start": 13}, names=())
    assert reasons.sentence(agreed, CLOCK) == "Agreed for 10:13."


def test_one_minute_is_one_minute() -> None:
    assert reasons.sentence(Why("lengthen", {"minutes": 1}), CLOCK) == "Meet 1 minute longer."
    assert reasons.sentence(Why("lengthen", {"minutes": Fraction(5, 2)}), CLOCK) == "Meet 3 minutes longer."
