"""Account mail is owed as rows; tests read it there, as the job that sends it does."""

from __future__ import annotations

from typing import Any

import pytest

from accounts.models import Person
from tests.web.account.doorstep import PASSWORD


@pytest.fixture(autouse=True)
def mail_can_leave(settings: Any) -> None:
    """The server has a mail server. What is owed is kept, and nothing is sent by a request."""
    settings.MAIL_CAN_LEAVE = True


@pytest.fixture
def tomas(report: Person) -> Person:
    """Tomas with a password."""
    report.set_password(PASSWORD)
    report.save()
    return report
