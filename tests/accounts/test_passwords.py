"""Long is not enough: words everybody guesses first stay out, however they are stretched."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError

from accounts.passwords import StretchedPasswordValidator


@pytest.mark.parametrize(
    "password",
    [
        "aaaaaaaaaaaaaaaa",
        "abababababababab",
        "abcdefghijklmnop",
        "PONMLKJIHGFEDCBA",
        "1234567890123456",
        "qwertyuiopasdfgh",
        "passwordpassword",
        "PasswordPassword",
        "password1234567890",
        "!!!dragon2026!!!!",
        "sunshinesunshine1!",
        "",
    ],
)
def test_a_common_password_made_longer_is_refused(password: str) -> None:
    with pytest.raises(ValidationError):
        StretchedPasswordValidator().validate(password)


@pytest.mark.parametrize(
    "password",
    [
        "seven lamps on a long quay",
        "dragon sunshine gangway",
        "password of the night crew",
        "all lower case and no digit",
        "日本語のとても長い合言葉です。",
        "m8Zt2qLw0xVrB7n",
    ],
)
def test_words_that_do_not_belong_together_are_taken(password: str) -> None:
    StretchedPasswordValidator().validate(password)
