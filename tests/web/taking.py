"""Saying yes to an order that a page shows before it is taken."""

from __future__ import annotations

import re
from collections.abc import Mapping

from django.http import HttpResponseBase
from django.test import Client

from tests.cast import body_of


def token_in(page: str) -> str:
    """What a yes on this page names."""
    found = re.search(r'name="taken" value="(\w+)"', page)
    assert found, "the page asks nothing"
    return found[1]


def take(client: Client, path: str, data: Mapping[str, object]) -> HttpResponseBase:
    """Send an act, read the order it would make, and take it."""
    shown = client.post(path, data)
    assert shown.status_code == 200, shown.status_code
    assert "Nothing is changed yet." in body_of(shown)
    taken = client.post(path, {**data, "taken": token_in(body_of(shown))})
    assert taken.status_code == 302, taken.status_code
    return taken


def do(client: Client, path: str, data: Mapping[str, object]) -> HttpResponseBase:
    """Send an act, and take the order that it would make if that is asked about."""
    shown = client.post(path, data)
    return take(client, path, data) if shown.status_code == 200 else shown
