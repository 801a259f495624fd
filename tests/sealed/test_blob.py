"""Sealed payloads open for their key, place and revision, and in no other way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from oneonone.sealed import CannotOpen, CannotSeal, Where, key_number_of, open_sealed, seal
from oneonone.sealed.padding import STEP, pad, unpad
from tests.sealed.cases import HERE, JONAS, OTHER_NOTE, WORDS, data_key, payloads

OVERHEAD = 1 + 4 + 12 + 16  # version, key number, nonce, tag


@given(payload=payloads, revision=st.integers(1, 2**31), number=st.integers(1, 2**32 - 1))
def test_what_was_sealed_opens_unchanged(payload: dict[str, Any], revision: int, number: int) -> None:
    where, key = replace(HERE, revision=revision), data_key(number)
    assert open_sealed(key, where, seal(key, where, payload)) == payload


def test_the_words_are_not_in_the_blob() -> None:
    blob = seal(data_key(), HERE, WORDS)
    assert b"night" not in blob
    assert b"question" not in blob


def test_two_seals_of_the_same_words_share_no_nonce_and_no_ciphertext() -> None:
    one, two = seal(data_key(), HERE, WORDS), seal(data_key(), HERE, WORDS)
    assert one[5:17] != two[5:17]
    assert one[17:] != two[17:]


@given(payload=payloads, position=st.integers(0), bit=st.integers(0, 7))
def test_one_changed_bit_anywhere_is_noticed(payload: dict[str, Any], position: int, bit: int) -> None:
    blob = bytearray(seal(data_key(), HERE, payload))
    blob[position % len(blob)] ^= 1 << bit
    with pytest.raises(CannotOpen):
        open_sealed(data_key(), HERE, bytes(blob))


@given(length=st.integers(0, 400))
def test_a_cut_blob_does_not_open(length: int) -> None:
    blob = seal(data_key(), HERE, WORDS)
    with pytest.raises(CannotOpen):
        open_sealed(data_key(), HERE, blob[: min(length, len(blob) - 1)])


def test_bytes_after_the_blob_are_noticed() -> None:
    with pytest.raises(CannotOpen, match="authenticity"):
        open_sealed(data_key(), HERE, seal(data_key(), HERE, WORDS) + b"\0")


@pytest.mark.parametrize(
    "elsewhere",
    [
        pytest.param(replace(HERE, table="logbook_entry"), id="another table"),
        pytest.param(replace(HERE, row=OTHER_NOTE), id="another row"),
        pytest.param(replace(HERE, author=JONAS), id="another author"),
        pytest.param(replace(HERE, revision=4), id="an older blob put back"),
        pytest.param(replace(HERE, revision=2), id="a newer blob under an older revision"),
    ],
)
def test_a_blob_moved_elsewhere_does_not_open(elsewhere: Where) -> None:
    blob = seal(data_key(), HERE, WORDS)
    with pytest.raises(CannotOpen, match="authenticity"):
        open_sealed(data_key(), elsewhere, blob)
    assert open_sealed(data_key(), HERE, blob) == WORDS


def test_another_persons_key_of_the_same_number_does_not_open() -> None:
    blob = seal(data_key(fill=7), HERE, WORDS)
    with pytest.raises(CannotOpen, match="authenticity"):
        open_sealed(data_key(fill=8), HERE, blob)


def test_a_key_of_another_number_is_not_even_tried() -> None:
    blob = seal(data_key(number=1), HERE, WORDS)
    with pytest.raises(CannotOpen, match="key"):
        open_sealed(data_key(number=2), HERE, blob)


def test_a_rewritten_key_number_is_noticed() -> None:
    blob = seal(data_key(number=1), HERE, WORDS)
    forged = blob[:1] + (2).to_bytes(4, "big") + blob[5:]
    assert key_number_of(forged) == 2
    with pytest.raises(CannotOpen, match="authenticity"):
        open_sealed(data_key(number=2), HERE, forged)


def test_a_format_not_known_is_told_apart() -> None:
    blob = seal(data_key(), HERE, WORDS)
    with pytest.raises(CannotOpen, match="version"):
        open_sealed(data_key(), HERE, b"\x02" + blob[1:])


def test_what_the_database_gives_opens_too() -> None:
    assert open_sealed(data_key(), HERE, memoryview(seal(data_key(), HERE, WORDS))) == WORDS


@given(content=st.binary(max_size=2000))
def test_padding_gives_back_what_it_was_given(content: bytes) -> None:
    padded = pad(content)
    assert len(padded) % STEP == 0
    assert unpad(padded) == content


def test_short_texts_of_any_length_make_blobs_of_one_length() -> None:
    lengths = {len(seal(data_key(), HERE, {"words": "a" * count})) for count in range(200)}
    assert lengths == {STEP + OVERHEAD}


@pytest.mark.parametrize(
    "padded", [b"", b"\0" * 3, pad(b"x")[:-1], pad(b"x") + b"\0", pad(b"x")[:-1] + b"\1", b"\xff" * STEP]
)
def test_padding_of_any_other_shape_is_refused(padded: bytes) -> None:
    with pytest.raises(CannotOpen, match="payload"):
        unpad(padded)


@pytest.mark.parametrize(
    "payload",
    [
        pytest.param(["words"], id="a list"),
        pytest.param("words", id="a text"),
        pytest.param({1: "words"}, id="a number as a key"),
        pytest.param({"day": object()}, id="no JSON"),
        pytest.param({"minutes": float("nan")}, id="not a number"),
        pytest.param({"marks": ("a", "b")}, id="a tuple, which would come back as a list"),
        pytest.param({"words": "\ud800"}, id="half a character"),
        pytest.param({"words": "a" * (1 << 20)}, id="too large"),
    ],
)
def test_what_would_not_come_back_the_same_is_not_sealed(payload: Any) -> None:
    with pytest.raises(CannotSeal):
        seal(data_key(), HERE, payload)


def test_a_refusal_to_seal_quotes_nothing_of_the_payload() -> None:
    with pytest.raises(CannotSeal) as caught:
        seal(data_key(), HERE, {"words": "night crossings \ud800"})
    assert "crossings" not in str(caught.value)
    assert caught.value.__cause__ is None
    assert caught.value.__context__ is None


def test_a_failure_to_open_carries_no_cause_that_could_quote() -> None:
    with pytest.raises(CannotOpen) as caught:
        open_sealed(data_key(fill=9), HERE, seal(data_key(), HERE, WORDS))
    assert caught.value.__cause__ is None
    assert caught.value.__suppress_context__
