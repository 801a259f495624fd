"""Every reason the planner can give has a sentence, and every sentence can be filled."""

from __future__ import annotations

import datetime as dt
import string
from fractions import Fraction

import pytest

from oneonone.models import Meeting, Topic
from oneonone.planner.reasons import ENGLISH
from oneonone.selectors.agenda.reasons import BOTH, SKIPPED, Why
from oneonone.web.agenda.wording import reason_wording

MEETING = Meeting(starts_at=dt.datetime(2026, 7, 2, 9, 0, tzinfo=dt.UTC), zone="Europe/London", minutes=50)
CLOCK = reason_wording.clock_of(MEETING)


FULL = Why("full", {"minutes": 13})


def why(code: str) -> Why:
    """A reason with the numbers and names that the planner's own sentence asks for."""
    wanted = [name for _text, name, _spec, _conversion in string.Formatter().parse(ENGLISH[code]) if name]
    numbers = {name: 13 for name in wanted if name != "keys"}
    return Why(code=code, numbers=numbers, names=("Radio procedure",) if "keys" in wanted else ())


def test_the_sentences_are_those_of_the_planners_codes() -> None:
    assert set(reason_wording.SENTENCES) == {*ENGLISH, SKIPPED}
    assert {*reason_wording.PLACES_SAID, *reason_wording.LENGTHS_SAID} <= set(ENGLISH)


@pytest.mark.parametrize("code", sorted(ENGLISH))
def test_a_reason_is_said_in_whole_words(code: str) -> None:
    told = why(code)
    said = reason_wording.sentence(told, CLOCK)
    assert said.endswith(".")
    assert "%" not in said
    assert "13" in said or not told.numbers or code in ("denser", "as_dense")
    assert "Radio procedure" in said or not told.names or code == "must_too_long"


@pytest.mark.parametrize(
    ("code", "by", "said"),
    [
        ("first", "Ines", "Called first by Ines."),
        ("first", BOTH, "Called first by both of you."),
        ("first", "", "Called first."),
        ("must", "Tomas", "Must be discussed, says Tomas."),
        ("must", BOTH, "Must be discussed, you both say."),
        ("by_hand", "Tomas", "Put here by Tomas."),
        ("in_turn", "", "Comes in turn."),
    ],
)
def test_whose_word_it_was_is_said(code: str, by: str, said: str) -> None:
    assert reason_wording.sentence(Why(code, {}, by=by), CLOCK) == said


def test_a_topic_that_is_first_because_it_was_skipped_says_so() -> None:
    assert reason_wording.sentence(Why(SKIPPED, {"times": 2}), CLOCK) == "Skipped 2 times, so it comes first."


def test_why_here_is_one_sentence_or_two_where_it_has_not_all_it_asked() -> None:
    place = Why("first", {}, by="Ines")
    assert reason_wording.why_here(place, FULL, CLOCK) == ("Called first by Ines.",)
    trimmed = Why("trimmed_for", {"minutes": 4, "wanted": 5}, names=("Lockers",))
    assert reason_wording.why_here(place, trimmed, CLOCK) == (
        "Called first by Ines.",
        "It has 4 of 5 minutes, so that “Lockers” fits.",
    )


def test_a_box_says_only_what_its_reader_cannot_see_on_the_agenda() -> None:
    denser = Why("denser", {"worth": 6, "minutes": 5, "next_worth": 4, "next_minutes": 5}, names=("Paint",))
    assert reason_wording.in_short(denser, FULL, CLOCK) == ""
    assert reason_wording.in_short(Why("by_hand", {}, by="Tomas"), FULL, CLOCK) == "Put here by Tomas."
    trimmed = Why("trimmed", {"minutes": 8, "wanted": 10})
    assert reason_wording.in_short(denser, trimmed, CLOCK) == "8 of 10 minutes."


def test_a_start_is_said_by_the_clock_of_the_zone_it_was_agreed_in() -> None:
    # Nine o'clock UTC in July is ten o'clock in London (British Summer Time, UTC+1).
    agreed = Why(code="agreed", numbers={"start": 13}, names=())
    assert reason_wording.sentence(agreed, CLOCK) == "Agreed for 10:13."


def test_one_minute_is_one_minute() -> None:
    assert reason_wording.sentence(Why("lengthen", {"minutes": 1}), CLOCK) == "Meet 1 minute longer."
    assert (
        reason_wording.sentence(Why("lengthen", {"minutes": Fraction(5, 2)}), CLOCK)
        == "Meet 3 minutes longer."
    )


@pytest.mark.parametrize(
    ("factor", "said"),
    [
        (Fraction(13, 10), "Asked 10, has 13: obstacles here usually take 30 % longer than asked."),
        (Fraction(126, 100), "Asked 10, has 13: obstacles here usually take 26 % longer than asked."),
        (Fraction(2), "Asked 10, has 13: obstacles here usually take 100 % longer than asked."),
        (Fraction(3, 4), "Asked 10, has 13: obstacles here usually take 25 % less than asked."),
    ],
)
def test_minutes_by_history_are_said_with_the_kind_and_how_it_runs(factor: Fraction, said: str) -> None:
    numbers: dict[str, int | Fraction] = {"asked": 10, "minutes": 13, "factor": factor}
    why = Why("history", numbers, kind="obstacle")
    assert reason_wording.sentence(why, CLOCK) == said


def test_trimmed_minutes_say_both_what_history_made_of_them_and_what_was_boxed() -> None:
    numbers: dict[str, int | Fraction] = {"asked": 10, "wanted": 13, "minutes": 8, "factor": Fraction(13, 10)}
    assert reason_wording.sentence(Why("history_trimmed", numbers, kind="idea"), CLOCK) == (
        "Asked 10, which would be 13: ideas here usually take 30 % longer than asked. It has 8:"
        " the others need the rest."
    )


def test_no_minutes_left_are_none() -> None:
    for free, said in (
        (0, "It needs at least 5 minutes, and none are left."),
        (1, "It needs at least 5 minutes, with 1 minute left."),
    ):
        assert reason_wording.sentence(Why("no_room", {"least": 5, "free": free}), CLOCK) == said


def test_what_took_the_minutes_is_named_while_it_is_one_or_two() -> None:
    numbers = {"least": 10, "free": 6}
    for names, after in (
        (("Crane slot",), " left after “Crane slot”."),
        (("Crane slot", "Ropes"), " left after “Crane slot” and “Ropes”."),
        (("Crane slot", "Ropes", "Paint"), " left."),
    ):
        said = reason_wording.sentence(Why("no_room", numbers, names=names), CLOCK)
        assert said == f"It needs at least 10 minutes, with 6 minutes{after}"


def test_every_kind_of_topic_has_its_words() -> None:
    assert set(reason_wording.TAKE_LONGER) == set(reason_wording.TAKE_LESS) == set(Topic.Kind.values)
