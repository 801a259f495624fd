"""Checks of text before it is stored: its length and its characters."""

from __future__ import annotations

import re
import unicodedata

from django.utils.translation import gettext as _

from oneonone.services.refusals import TooLong

# Bidirectional overrides can make a line read as something else than it says (Unicode TR 36); the marks
# that right-to-left scripts need in running text (LRM, RLM, ALM) stay.
_OVERRIDES = re.compile("[\u202a-\u202e\u2066-\u2069]")


def _printable(text: str) -> bool:
    return not _OVERRIDES.search(text) and all(
        unicodedata.category(character) != "Cc" or character in "\n\t" for character in text
    )


def one_line(text: str, *, field: str, most: int, required: bool = True) -> str:
    """One line of at most ``most`` characters, spaces at the ends removed.

    Refused: empty when required, too long, line breaks, control characters, bidirectional overrides.
    """
    tidy = text.strip()
    if "\n" in tidy or "\r" in tidy or "\t" in tidy or not _printable(tidy):
        raise TooLong(field=field, accepted=_("One line of ordinary characters."))
    return _within(tidy, field=field, most=most, required=required)


def many_lines(text: str, *, field: str, most: int, required: bool = True) -> str:
    """Text of at most ``most`` characters; line breaks are kept as ``\\n``. Refused as in ``one_line``."""
    tidy = text.replace("\r\n", "\n").replace("\r", "\n").strip()
    if not _printable(tidy):
        raise TooLong(field=field, accepted=_("Ordinary characters and line breaks."))
    return _within(tidy, field=field, most=most, required=required)


def _within(text: str, *, field: str, most: int, required: bool) -> str:
    if required and not text:
        raise TooLong(field=field, accepted=_("Some text is needed."))
    if len(text) > most:
        raise TooLong(
            field=field,
            accepted=_("At most %(most)d characters; this has %(has)d.") % {"most": most, "has": len(text)},
        )
    return text
