"""A password validator for common passwords that were only made longer.

SP 800-63B-4 requires a comparison with commonly used passwords, repetitions and sequences. Few entries of the
list of common passwords have our minimum length, so the word inside a longer password is compared.
"""

from __future__ import annotations

import functools
import string

from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

FEWEST_CHARACTERS = 6
SEQUENCES = (string.ascii_lowercase, string.digits * 3, "qwertyuiopasdfghjklzxcvbnm")


class StretchedPasswordValidator:
    """Refuses a common password repeated or with digits and signs around it, and mere sequences."""

    def validate(self, password: str, user: AbstractBaseUser | None = None) -> None:
        """Raise ValidationError for a long password that is easy to guess."""
        folded = password.casefold()
        if len(set(folded)) < FEWEST_CHARACTERS or _is_sequence(folded):
            raise ValidationError(
                _("This is long but easy to guess: it repeats characters or counts up."),
                code="password_stretched",
            )
        if _unit(folded) in _common() or _stem(folded) in _common() or _unit(_stem(folded)) in _common():
            raise ValidationError(
                _("This is a well-known password made longer. Use words that do not belong together."),
                code="password_stretched",
            )

    def get_help_text(self) -> str:
        """Return the rule as one sentence."""
        return _("Your password cannot be a well-known one made longer.")


@functools.cache
def _common() -> frozenset[str]:
    return frozenset(CommonPasswordValidator().passwords)


def _unit(text: str) -> str:
    """Return the shortest text whose repetition gives this one, or the text itself."""
    return text[: (text + text).index(text, 1)] if text else text


def _stem(text: str) -> str:
    """Return the text without digits and punctuation at both ends."""
    return text.strip(string.digits + string.punctuation + string.whitespace)


def _is_sequence(text: str) -> bool:
    return any(text in line or text[::-1] in line for line in SEQUENCES)
