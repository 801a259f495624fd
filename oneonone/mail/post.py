"""Handing mails to a server, one after the other over one connection, and telling how each ended."""

from __future__ import annotations

import contextlib
import logging
import smtplib
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

from django.core.mail import EmailMessage, get_connection

from oneonone.services.notices.mail_sending import Outcome

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Handed:
    """How handing over one mail ended. ``error`` is a reply code or the name of a fault."""

    outcome: Outcome
    error: str = ""


def _nothing() -> None:
    return


class Post:
    """A connection to the mail server that opens with the first mail and is closed at the end.

    After any fault it is closed as well, so that the next mail begins with a fresh one.
    """

    def __init__(self) -> None:
        self._backend: Any = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def hand_over(self, message: EmailMessage, before_text: Callable[[], None] = _nothing) -> Handed:
        """Send one mail. No fault of server or network is raised.

        ``before_text`` is called once, before the first byte of the text leaves. What it raises is raised,
        and the mail does not leave.
        """
        was_open = self._backend is not None
        handed = self._try(message, before_text)
        if was_open and handed.error == smtplib.SMTPServerDisconnected.__name__ and _can_repeat(handed):
            # A server may hang up on an idle connection; that says nothing about this mail.
            handed = self._try(message, before_text)
        return handed

    def _try(self, message: EmailMessage, before_text: Callable[[], None]) -> Handed:
        if self._backend is None and (fault := self._open()) is not None:
            return Handed(Outcome.AWAY, fault)
        if getattr(self._backend, "tells_before_text", False):
            self._backend.connection.before_text = before_text
        else:
            before_text()
        try:
            self._backend.send_messages([message])
        except ValueError as defect:
            # A header or an address that cannot be written: found before anything is sent.
            return Handed(Outcome.REFUSED, type(defect).__name__)
        except (smtplib.SMTPException, OSError) as fault_of_sending:
            handed = told(fault_of_sending, text_left=self._text_left())
            self.close()
            return handed
        except BaseException:
            self._hang_up()
            raise
        return Handed(Outcome.SENT)

    def _open(self) -> str | None:
        backend: Any = get_connection()
        try:
            backend.open()
        except (smtplib.SMTPException, OSError) as fault:
            log.warning("no mail server to talk to: %s", type(fault).__name__)
            with contextlib.suppress(Exception):
                backend.close()
            return type(fault).__name__
        self._backend = backend
        return None

    def _text_left(self) -> bool:
        """Whether the text was on its way. A backend that cannot tell is taken to have sent it."""
        return bool(getattr(getattr(self._backend, "connection", None), "text_left", True))

    def _hang_up(self) -> None:
        """Drop the connection in the middle of a mail: without its last dot the server has received none."""
        if (connection := getattr(self._backend, "connection", None)) is not None:
            connection.close()
        self.close()

    def close(self) -> None:
        backend, self._backend = self._backend, None
        if backend is not None:
            # The mails have been answered for; what a server says to goodbye changes nothing.
            with contextlib.suppress(smtplib.SMTPException, OSError):
                backend.close()


def _can_repeat(handed: Handed) -> bool:
    return handed.outcome is Outcome.NOT_NOW


def told(fault: Exception, *, text_left: bool) -> Handed:
    """What a fault says about the mail.

    A reply is an answer: 5xx for good, 4xx for now (RFC 5321, 4.2.1). Without a reply, it depends on whether
    the text had begun to leave.
    """
    code = _code(fault)
    if code is not None:
        return Handed(Outcome.REFUSED if code >= 500 else Outcome.NOT_NOW, str(code))
    outcome = Outcome.UNCONFIRMED if text_left else Outcome.NOT_NOW
    return Handed(outcome, type(fault).__name__)


def _code(fault: Exception) -> int | None:
    if isinstance(fault, smtplib.SMTPRecipientsRefused):
        return min(code for code, _words in fault.recipients.values())
    if isinstance(fault, smtplib.SMTPResponseException):
        return fault.smtp_code if 400 <= fault.smtp_code < 600 else None
    return None
