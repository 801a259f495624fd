"""What the mail tests have: a mail server on loopback that the settings name."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pytest_django import Settings

from tests.mail.server import Script, running


@pytest.fixture
def smtp(settings: Settings) -> Iterator[Script]:
    """A mail server that the settings name."""
    script = Script()
    with running(script) as port:
        settings.MAIL_CAN_LEAVE = True
        settings.EMAIL_BACKEND = "oneonone.mail.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
        settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
        settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
        settings.EMAIL_TIMEOUT = 5
        settings.DEFAULT_FROM_EMAIL = "one-on-ones@alderquay.example.org"
        yield script
