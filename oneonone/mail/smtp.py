"""Django's SMTP backend, which also tells when the text of a mail is about to leave.

That is the line between "try again" and "it may have arrived": a conversation that breaks off before it has
delivered nothing.
"""

from __future__ import annotations

import smtplib
from collections.abc import Callable
from typing import Any

from django.core.mail.backends import smtp


class _KnowsWhatLeft:
    """Watches ``DATA``: what is sent first in it is the command, and then the text (RFC 5321, 4.1.1.4).

    ``before_text`` is called between the two. What it raises ends the conversation before the text.
    """

    text_left = False
    before_text: Callable[[], None] | None = None
    _sent_in_data: int | None = None

    def data(self, msg: Any) -> Any:
        self.text_left = False
        self._sent_in_data = 0
        try:
            return super().data(msg)  # type: ignore[misc]  # of smtplib.SMTP, beside which this stands
        finally:
            self._sent_in_data = None

    def send(self, s: Any) -> None:
        if self._sent_in_data is not None:
            self._sent_in_data += 1
            if self._sent_in_data == 2 and self.before_text is not None:
                self.before_text()
            self.text_left = self._sent_in_data > 1
        super().send(s)  # type: ignore[misc]

    def mail(self, sender: str, options: Any = ()) -> Any:
        self.text_left = False
        return super().mail(sender, options)  # type: ignore[misc]


class _Plain(_KnowsWhatLeft, smtplib.SMTP):
    pass


class _OverTls(_KnowsWhatLeft, smtplib.SMTP_SSL):
    pass


class EmailBackend(smtp.EmailBackend):
    """Set as ``EMAIL_BACKEND`` where there is a mail server."""

    tells_before_text = True

    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return _OverTls if self.use_ssl else _Plain
