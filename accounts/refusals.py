"""The base of every refusal: a typed exception that says what is wrong, where, and what is accepted.

A service raises a refusal before it has changed anything. The faces turn it into a message at the field, or
into a problem document, and keep what was typed.
"""

from __future__ import annotations

from typing import ClassVar

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


class Refusal(Exception):  # the domain's word for it
    """Something was asked for that is not done, and nothing was changed.

    Subclasses set ``text`` (what is wrong), ``field`` (the name of the form field; empty when it is about the
    whole form) and ``accepted`` (what would be accepted). An instance may narrow ``field`` and ``accepted``
    where they depend on the case, never ``text``: the text is constant, so that it can be logged and never
    carries user words.
    """

    text: ClassVar[str | Promise] = _("This is not possible.")
    field: str = ""
    accepted: str | Promise = ""

    def __init__(self, *, field: str | None = None, accepted: str | Promise | None = None) -> None:
        super().__init__()
        if field is not None:
            self.field = field
        if accepted is not None:
            self.accepted = accepted

    def __str__(self) -> str:
        """The text, and after it what would be accepted."""
        return f"{self.text} {self.accepted}".rstrip()
