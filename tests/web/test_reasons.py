"""Every reason the planner can give has a sentence, and every sentence can be filled."""

from __future__ import annotations

import datetime as dt
import string
from fractions import Fraction

import pytest

from oneonone.models import Meeting, Topic
from oneonone.planner.reasons import ENGLISH
from oneonone.selectors.agenda.order_view import Why
from oneonone.web import reasons

MEETING = Meeting(starts_at=dt.datetime(2026, 7, 2, 9, 0, tzinfo=dt.UTC), zone="Europe/London", minutes=50)
CLOCK = reasons.clock_of(MEETING)


def why(code: str) -> Why:
    """A reason with the numbers and names that the planner's own sentence asks for."""
    wanted = [name for _text, name, _spec, _conversion in string.Formatter().parse(ENGLISH[code]) if name]
    numbers = {name: 13 for name in wanted if not name.startswith("key")}
    if code == "denser":
        numbers |= {"worth": 14, "minutes": 13, "next_worth": 13, "next_minutes": 13}
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
    assert reasons.sentence(agreed, CLOCK) == "Set by hand to begin at 10:13."


def test_one_minute_is_one_minute() -> None:
    assert reasons.sentence(Why("lengthen", {"minutes": 1}), CLOCK) == "Meet 1 minute longer."
    assert reasons.sentence(Why("lengthen", {"minutes": Fraction(5, 2)}), CLOCK) == "Meet 3 minutes longer."


@pytest.mark.parametrize(
    ("factor", "said"),
    [
        (Fraction(13, 10), "Asked 10, boxed 13: obstacles here run 1.3 times over."),
        (Fraction(126, 100), "Asked 10, boxed 13: obstacles here run 1.26 times over."),
        (Fraction(2), "Asked 10, boxed 13: obstacles here run 2 times over."),
        (Fraction(3, 4), "Asked 10, boxed 13: obstacles here take 0.75 of what is asked."),
    ],
)
def test_minutes_by_history_are_said_with_the_kind_and_how_it_runs(factor: Fraction, said: str) -> None:
    numbers: dict[str, int | Fraction] = {"asked": 10, "minutes": 13, "factor": factor}
    why = Why("history", numbers, kind="obstacle")
    assert reasons.sentence(why, CLOCK) == said
    assert reasons.in_short(why, CLOCK) == said


def test_trimmed_minutes_say_both_what_history_made_of_them_and_what_was_boxed() -> None:
    numbers: dict[str, int | Fraction] = {"asked": 10, "wanted": 13, "minutes": 8, "factor": Fraction(13, 10)}
    assert reasons.sentence(Why("history_trimmed", numbers, kind="idea"), CLOCK) == (
        "Asked 10, which would be 13: ideas here run 1.3 times over. Boxed 8: the others need the rest."
    )


def test_what_matters_as_much_a_minute_is_not_said_to_matter_more() -> None:
    # 13 in 3 minutes beside 26 in 6, and beside 25 in 6.
    alike = {"worth": 13, "minutes": 3, "next_worth": 26, "next_minutes": 6}
    why = Why("denser", alike, names=("Ropes",))
    assert reasons.sentence(why, CLOCK) == "Before “Ropes”: both matter as much for each minute they take."
    assert reasons.in_short(why, CLOCK) == "Matters as much per minute as the next."
    why = Why("denser", alike | {"next_worth": 25}, names=("Ropes",))
    assert reasons.sentence(why, CLOCK) == "Before “Ropes”, because it matters more for each minute it takes."
    assert reasons.in_short(why, CLOCK) == "Matters more per minute than the next."


def test_no_minutes_left_are_none() -> None:
    for free, said in (
        (0, "It needs at least 5 minutes, and none are left."),
        (1, "It needs at least 5 minutes, with 1 minute left."),
    ):
        assert reasons.sentence(Why("no_minutes", {"least": 5, "free": free}), CLOCK) == said


def test_every_kind_of_topic_has_its_words() -> None:
    assert set(reasons.RUN_OVER) == set(reasons.RUN_SHORT) == set(Topic.Kind.values)
