"""Mail that goes nowhere: the demo's letters lie in a Maildir, where an administrator's page reads them."""

import mailbox
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from email import message_from_bytes, policy
from email.message import EmailMessage as ParsedMessage
from email.utils import parsedate_to_datetime
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


@dataclass(frozen=True)
class Letter:
    """One letter as its reader sees it. `key` names it within the folder."""

    key: str
    sent_at: datetime
    sender: str
    to: str
    subject: str
    text: str


class EmailBackend(BaseEmailBackend):
    """Django's backend of this folder: delivery is atomic, so a reader sees whole letters only."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        if settings.MAIL_FOLDER is None:
            raise ImproperlyConfigured("Mail goes to a folder in the demo only.")
        folder = _folder(settings.MAIL_FOLDER)
        for message in email_messages:
            folder.add(message.message().as_bytes())
        return len(email_messages)


def letters(folder: Path) -> list[Letter]:
    """All letters in `folder`, newest first; none where the folder does not exist yet."""
    if not folder.is_dir():
        return []
    box = _folder(folder)
    found = [_read(key, box.get_bytes(key)) for key in box.iterkeys()]
    return sorted(found, key=lambda letter: (letter.sent_at, letter.key), reverse=True)


def _folder(path: Path) -> mailbox.Maildir:
    # The library takes a folder that is there to be whole; several processes may be making it at once.
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    for part in (path, path / "tmp", path / "new", path / "cur"):
        part.mkdir(mode=0o700, exist_ok=True)
    return mailbox.Maildir(path)


def _read(key: str, raw: bytes) -> Letter:
    message = message_from_bytes(raw, _class=ParsedMessage, policy=policy.default)
    body = message.get_body(preferencelist=("plain", "html"))
    return Letter(
        key=key,
        sent_at=_sent_at(str(message["Date"] or "")),
        sender=str(message["From"] or ""),
        to=str(message["To"] or ""),
        subject=str(message["Subject"] or ""),
        text=body.get_content() if body else "",
    )


def _sent_at(value: str) -> datetime:
    try:
        sent = parsedate_to_datetime(value)
    except ValueError:
        return datetime.fromtimestamp(0, UTC)
    return sent if sent.tzinfo else sent.replace(tzinfo=UTC)
