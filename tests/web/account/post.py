"""The mail that is owed, and the code in it."""

from __future__ import annotations

import re

from django.core import mail

from oneonone.models import Mail
from oneonone.selectors.notices import mail_texts


def owed() -> list[Mail]:
    """Account mail in the order in which it came about. None of it was sent from within a request."""
    assert not mail.outbox
    return list(Mail.objects.filter(kind=Mail.Kind.ACCOUNT).order_by("created_at"))


def code_in(message: Mail) -> str:
    """The code that stands on a line of its own."""
    found = re.search(r"^ {4}(\S+)$", mail_texts.text_of(message), re.MULTILINE)
    assert found, "no code in the mail"
    return found[1]
