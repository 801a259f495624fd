"""Rank and worth from what people said."""

from functools import partial

import pytest

from oneonone.planner import FIRST, IF_TIME, IN_TURN, weigh


@pytest.mark.parametrize(
    ("manager", "report", "raiser", "rank", "rank_from"),
    [
        (None, None, "manager", IN_TURN, "silent"),
        (None, None, None, IN_TURN, "silent"),
        ("if_time", None, "report", IN_TURN, "silent"),
        ("if_time", None, "manager", IF_TIME, "said"),
        ("if_time", "if_time", "report", IF_TIME, "said"),
        (None, "if_time", None, IN_TURN, "silent"),
        ("in_turn", "if_time", "report", IN_TURN, "said"),
        ("first", None, "report", FIRST, "said"),
        ("if_time", "first", "manager", FIRST, "said"),
    ],
)
def test_the_rank_is_the_highest_said_and_a_silent_raiser_counts_as_in_turn(
    manager: str | None, report: str | None, raiser: str | None, rank: int, rank_from: str
) -> None:
    found = weigh(manager=manager, report=report, raiser=raiser, kind="update")
    assert (found.rank, found.rank_from) == (rank, rank_from)


def test_must_and_being_skipped_twice_come_first() -> None:
    said = partial(weigh, manager="if_time", report="if_time", raiser="report", kind="idea")
    assert said(must=True).rank_from == "must"
    assert said(must=True).rank == said(skipped=2).rank == FIRST
    assert said(skipped=2).rank_from == "skipped"
    assert said(skipped=1).rank == IF_TIME


@pytest.mark.parametrize(
    ("kind", "skipped", "report", "worth"),
    [
        ("update", 0, "if_time", 4),
        ("idea", 1, "if_time", 5),
        ("obstacle", 0, "in_turn", 8),
        ("growth", 1, "if_time", 6),
        ("obstacle", 9, "first", 12),
        ("question", 0, "in_turn", 7),
    ],
)
def test_worth_adds_kind_times_skipped_and_both_sides_having_said_the_rank(
    kind: str, skipped: int, report: str, worth: int
) -> None:
    manager = "first" if report == "first" else "in_turn"
    found = weigh(manager=manager, report=report, raiser="report", kind=kind, skipped=skipped)
    assert found.worth == worth


def test_a_silent_side_has_not_said_the_rank_and_must_adds_nothing() -> None:
    quiet = weigh(manager="in_turn", report=None, raiser="report", kind="update")
    assert (quiet.rank, quiet.worth) == (IN_TURN, 4)
    must = weigh(manager="in_turn", report="in_turn", raiser="report", kind="update", must=True)
    assert (must.rank, must.worth) == (FIRST, 4)


def test_a_word_that_is_not_in_the_tables_is_an_error() -> None:
    with pytest.raises(KeyError):
        weigh(manager="urgent", report=None, raiser="report", kind="update")
    with pytest.raises(KeyError):
        weigh(manager=None, report=None, raiser="report", kind="rant")
