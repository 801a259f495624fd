"""A person's name as it may be stored: one line that shows what it says."""

from __future__ import annotations

import unicodedata

from django.utils.translation import gettext_lazy as _

from accounts.models.person import NAME_LENGTH
from accounts.refusals import Refusal

# Several scripts need these two inside words: Unicode Standard, chapter 23.2, "Cursive Connection and
# Ligatures".
JOINERS = "\u200c\u200d"
# Controls, line and paragraph ends, invisible formatting (bidirectional overrides among it), halves of
# characters.
UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Zl", "Zp"})


class NameRefused(Refusal):
    """The name is empty, too long, or has characters that do not show."""

    text = _("This name cannot be used.")
    field = "name"
    accepted = _("One line of 1 to 120 characters, without control characters.")


def clean(typed: str, *, field: str = "name") -> str:
    """The name in Unicode's composed form, without space around it. Raises NameRefused."""
    name = unicodedata.normalize("NFC", typed).strip()
    unseen = any(unicodedata.category(character) in UNSEEN for character in name if character not in JOINERS)
    if unseen or not 1 <= len(name) <= NAME_LENGTH or not name.strip(JOINERS):
        raise NameRefused(field=field)
    return name
