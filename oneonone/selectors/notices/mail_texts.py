"""Texts of mails that are owed with one: about accounts, and invitations. They hold codes and links."""

from __future__ import annotations

from django.db.models import QuerySet

from oneonone.models import Mail
from oneonone.selectors.private import keys


def purpose(mail: Mail) -> str:
    """What the text of a mail is sealed for: this mail and no other."""
    return f"mail {mail.pk}"


def text_of(mail: Mail) -> str:
    """The text, opened; empty for a mail whose words are made as it is sent, and for one that is settled.

    CannotOpen where no key at hand opens it.
    """
    return keys.unlock(purpose(mail), mail.body) if mail.body else ""


def sealed_mails() -> QuerySet[Mail]:
    """Mails that hold a text."""
    return Mail.objects.exclude(body="").order_by("pk").only("body")
