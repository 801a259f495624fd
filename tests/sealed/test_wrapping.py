"""Data keys are stored wrapped, for one person and one number, and open by whichever key wrapped them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.sealed import (
    CannotOpen,
    KeyEncryptionKey,
    Secret,
    lock,
    new_data_key,
    new_kek,
    unlock,
    unwrap,
    wrap,
    wrapped_by,
)
from tests.sealed.cases import JONAS, MARTA

OLD = KeyEncryptionKey.of(Secret(b"o" * 32))
NEW = KeyEncryptionKey.of(Secret(b"n" * 32))


def test_a_wrapped_key_comes_back() -> None:
    secret = new_data_key()
    key = unwrap([NEW], MARTA, 2, wrap(NEW, MARTA, 2, secret))
    assert (key.number, key.secret) == (2, secret)


def test_the_wrapped_form_does_not_hold_the_key() -> None:
    secret = new_data_key()
    assert secret.reveal() not in wrap(NEW, MARTA, 1, secret)


def test_fresh_keys_differ() -> None:
    assert new_data_key() != new_data_key()
    assert new_kek().id != new_kek().id


def test_an_older_key_encryption_key_still_unwraps() -> None:
    secret = new_data_key()
    blob = wrap(OLD, MARTA, 1, secret)
    assert wrapped_by(blob) == OLD.id
    assert unwrap([NEW, OLD], MARTA, 1, blob).secret == secret


def test_without_its_key_encryption_key_nothing_comes_back() -> None:
    with pytest.raises(CannotOpen, match="key"):
        unwrap([NEW], MARTA, 1, wrap(OLD, MARTA, 1, new_data_key()))


def test_a_key_given_to_another_person_does_not_unwrap() -> None:
    blob = wrap(NEW, MARTA, 1, new_data_key())
    with pytest.raises(CannotOpen, match="authenticity"):
        unwrap([NEW], JONAS, 1, blob)


def test_a_key_under_another_number_does_not_unwrap() -> None:
    blob = wrap(NEW, MARTA, 1, new_data_key())
    with pytest.raises(CannotOpen, match="authenticity"):
        unwrap([NEW], MARTA, 2, blob)


def test_a_key_encryption_key_of_the_same_id_and_other_bytes_does_not_unwrap() -> None:
    blob = wrap(KeyEncryptionKey("main", Secret(b"a" * 32)), MARTA, 1, new_data_key())
    with pytest.raises(CannotOpen, match="authenticity"):
        unwrap([KeyEncryptionKey("main", Secret(b"b" * 32))], MARTA, 1, blob)


@given(position=st.integers(0), bit=st.integers(0, 7))
def test_one_changed_bit_anywhere_is_noticed(position: int, bit: int) -> None:
    blob = bytearray(wrap(NEW, MARTA, 1, Secret(b"d" * 32)))
    blob[position % len(blob)] ^= 1 << bit
    with pytest.raises(CannotOpen):
        unwrap([NEW, OLD], MARTA, 1, bytes(blob))


@given(length=st.integers(0, 77))
def test_a_cut_one_does_not_unwrap(length: int) -> None:
    blob = wrap(NEW, MARTA, 1, Secret(b"d" * 32))
    assert len(blob) == 78
    with pytest.raises(CannotOpen):
        unwrap([NEW], MARTA, 1, blob[:length])


@given(noise=st.binary(max_size=120))
def test_noise_never_unwraps_and_never_breaks(noise: bytes) -> None:
    with pytest.raises(CannotOpen):
        unwrap([NEW, OLD], MARTA, 1, noise)


@given(secret=st.binary(max_size=200), purpose=st.text(max_size=40))
def test_a_locked_secret_comes_back_by_the_key_that_locked_it(secret: bytes, purpose: str) -> None:
    blob = lock(OLD, purpose, Secret(secret))
    assert unlock([NEW, OLD], purpose, blob).reveal() == secret
    assert len(secret) < 4 or secret not in blob


def test_a_locked_secret_opens_for_its_purpose_only() -> None:
    blob = lock(NEW, "second factor", Secret(b"JBSWY3DPEHPK3PXP"))
    with pytest.raises(CannotOpen, match="authenticity"):
        unlock([NEW], "feed address", blob)


def test_a_wrapped_data_key_is_no_locked_secret_and_the_other_way_round() -> None:
    with pytest.raises(CannotOpen, match="authenticity"):
        unlock([NEW], "second factor", wrap(NEW, MARTA, 1, new_data_key()))
    with pytest.raises(CannotOpen, match="authenticity"):
        unwrap([NEW], MARTA, 1, lock(NEW, "second factor", new_data_key()))


def test_a_data_key_of_another_length_is_none() -> None:
    with pytest.raises(CannotOpen, match="payload"):
        unwrap([NEW], MARTA, 1, wrap(NEW, MARTA, 1, Secret(b"short")))
