"""Signing in as a browser does, with the password that people of these tests have."""

from __future__ import annotations

from typing import Any

from django.test import Client

PASSWORD = "seven lamps on a long quay"
LOGIN = "/account/login/"


def sign_in(client: Client, email: str, password: str = PASSWORD) -> Any:
    """Send the form."""
    return client.post(LOGIN, {"login": email, "password": password})


def is_signed_in(client: Client) -> bool:
    """Whether the browser is let in."""
    return "_auth_user_id" in client.session
