"""What people say of a topic, as a number that is the same for both sides."""

import itertools

import pytest

from oneonone.planner import worth
from oneonone.planner.worth import IMPORTANCE, KIND


def test_neither_side_counts_for_more() -> None:
    for one, other, kind in itertools.product(IMPORTANCE, IMPORTANCE, KIND):
        assert worth(manager=one, report=other, kind=kind) == worth(manager=other, report=one, kind=kind)


def test_a_kept_topic_comes_before_an_equal_new_one() -> None:
    new = worth(manager="in_turn", report="in_turn", kind="idea")
    assert worth(manager="in_turn", report="in_turn", kind="idea", kept=1) > new


def test_worths_run_from_4_to_34() -> None:
    assert worth(manager="if_time", report="if_time", kind="update") == 4
    assert worth(manager="first", report="first", kind="obstacle", kept=9, must=True) == 34


def test_an_unknown_word_is_refused() -> None:
    with pytest.raises(KeyError):
        worth(manager="urgent", report="first", kind="idea")
