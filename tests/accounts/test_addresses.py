"""Addresses have one form."""

from __future__ import annotations

import pytest

from accounts import addresses


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ("  Marta@AlderQuay.example\n", "marta@alderquay.example"),
        ("jonas@fährhaus.example", "jonas@xn--fhrhaus-5wa.example"),
        ("no address", "no address"),
        ("a@b@Example.org", "a@b@example.org"),
        ("x@..", "x@.."),
        ("", ""),
    ],
)
def test_an_address_is_trimmed_in_lower_case_and_ascii(typed: str, stored: str) -> None:
    assert addresses.normalise(typed) == stored


def test_two_spellings_of_one_mailbox_are_the_same() -> None:
    assert addresses.same("Marta@alderquay.example ", "marta@ALDERQUAY.example")
    assert not addresses.same("marta@alderquay.example", "martha@alderquay.example")
