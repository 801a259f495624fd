"""What length alone does not keep out: a guessed word stretched to the length that is asked for.

SP 800-63B-4 has passwords compared against what is commonly used, and names repetition and sequences among
it. The list of common passwords has few that are as long as ours must be, so the word inside a stretched one
is compared.
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
        """Raise ValidationError for a password that is only long."""
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
        """What is asked for, in a sentence."""
        return _("Your password cannot be a well-known one made longer.")


@functools.cache
def _common() -> frozenset[str]:
    return frozenset(CommonPasswordValidator().passwords)


def _unit(text: str) -> str:
    """The shortest text that repeats to make this one; the text itself when it repeats nothing."""
    return text[: (text + text).index(text, 1)] if text else text


def _stem(text: str) -> str:
    """What is left without digits and signs at both ends."""
    return text.strip(string.digits + string.punctuation + string.whitespace)


def _is_sequence(text: str) -> bool:
    return any(text in line or text[::-1] in line for line in SEQUENCES)
