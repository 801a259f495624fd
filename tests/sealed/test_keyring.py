"""The text form of the key-encryption keys, and what is refused in it."""

from __future__ import annotations

import base64

import pytest

from oneonone.sealed import KeyEncryptionKey, MalformedKeys, Secret, format_keks, new_kek, parse_keks

FIRST = base64.b64encode(bytes(range(32))).decode()
SECOND = base64.b64encode(b"\xff" * 32).decode()


def test_keys_are_read_newest_first_past_comments_and_empty_lines() -> None:
    keks = parse_keks(f"# renewed in November\n{FIRST}\n\n  {SECOND}\n")
    assert [kek.secret.reveal() for kek in keks] == [bytes(range(32)), b"\xff" * 32]


def test_a_variable_of_one_line_separates_keys_by_commas() -> None:
    assert len(parse_keks(f"{FIRST},{SECOND}")) == 2


def test_both_alphabets_of_base64_spell_the_same_key() -> None:
    urlsafe = base64.urlsafe_b64encode(b"\xff" * 32).decode()
    assert urlsafe != SECOND
    assert parse_keks(urlsafe)[0].secret == parse_keks(SECOND)[0].secret


def test_what_is_written_is_read_back() -> None:
    keks = [new_kek(), new_kek()]
    assert [kek.id for kek in parse_keks(format_keks(keks))] == [kek.id for kek in keks]


def test_the_id_hangs_on_the_key_alone() -> None:
    assert parse_keks(FIRST)[0].id == parse_keks(f"{SECOND},{FIRST}")[1].id
    assert parse_keks(FIRST)[0].id != parse_keks(SECOND)[0].id


@pytest.mark.parametrize("text", ["", "\n \n", "# only a comment"])
def test_no_key_at_all_is_refused(text: str) -> None:
    with pytest.raises(MalformedKeys, match="There is no key-encryption key"):
        parse_keks(text)


@pytest.mark.parametrize(
    "entry", ["correct horse", FIRST[:-4], FIRST + FIRST, "é" * 44, FIRST[:20] + "*" + FIRST[21:]]
)
def test_a_bad_line_is_named_by_its_number_and_not_quoted(entry: str) -> None:
    with pytest.raises(MalformedKeys, match="Line 2") as caught:
        parse_keks(f"{SECOND}\n{entry}")
    assert entry not in str(caught.value)


def test_the_same_key_twice_is_refused() -> None:
    with pytest.raises(MalformedKeys, match="twice"):
        parse_keks(f"{FIRST}\n{FIRST}")


@pytest.mark.parametrize(("id_", "length"), [("", 32), ("ä", 32), ("a" * 33, 32), ("main", 16), ("main", 31)])
def test_a_key_of_another_kind_cannot_be_made(id_: str, length: int) -> None:
    with pytest.raises(MalformedKeys):
        KeyEncryptionKey(id_, Secret(b"k" * length))
