"""Outside the demo its pages do not exist."""

from __future__ import annotations

import pytest

# Addresses are put together once a process: here, where no test has turned the demo on yet.
import oneonone.urls  # noqa: F401
from accounts.models import Person
from tests.cast import ClientFor, assert_same_bytes


@pytest.mark.django_db
def test_outside_the_demo_there_are_no_such_pages(client_for: ClientFor, administrator: Person) -> None:
    client = client_for(administrator)
    nowhere = client.get("/no/such/page/")
    assert_same_bytes(client.get("/demo/mail/"), nowhere)
    assert client.post("/demo/clock/", {"step": "day"}).status_code == 404
