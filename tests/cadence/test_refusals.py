"""Refusals name the field and what is accepted, and survive a process boundary."""

from __future__ import annotations

import pickle
from datetime import date

import pytest

from oneonone.cadence import CadenceRefusal, InvalidRule, Rule, UnknownZone, check_zone


def test_every_refusal_is_one_kind_of_value_error() -> None:
    with pytest.raises(CadenceRefusal) as refused:
        Rule(0, "weeks", date(2026, 1, 5))
    assert isinstance(refused.value, ValueError)
    assert (refused.value.field, refused.value.accepted, refused.value.got) == ("every", "1 to 52 weeks", 0)
    assert str(refused.value) == "every: accepted is 1 to 52 weeks"


def test_what_was_typed_is_kept_but_not_in_the_message() -> None:
    with pytest.raises(UnknownZone) as refused:
        check_zone("Nowhere/Anna Example")
    assert refused.value.got == "Nowhere/Anna Example"
    assert "Anna" not in str(refused.value)


def test_a_refusal_can_be_sent_between_processes() -> None:
    sent = InvalidRule("every", "1 to 52 weeks", 0)
    got = pickle.loads(pickle.dumps(sent))
    assert type(got) is InvalidRule
    assert (got.field, got.accepted, got.got, str(got)) == ("every", "1 to 52 weeks", 0, str(sent))
