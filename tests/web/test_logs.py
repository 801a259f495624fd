"""Logs hold no token that could still be used."""

from __future__ import annotations

import logging
import logging.config
from io import StringIO
from typing import Any

import pytest
from django.conf import settings
from django.test import Client

from oneonone.web.log_filters import HidesTokens


@pytest.mark.parametrize(
    ("args", "written"),
    [
        (("Not Found", "/invitations/k3Y-_9/accept/"), "Not Found: /invitations/***/accept/"),
        (("Not Found", "/setup/k3Y-_9/"), "Not Found: /setup/***/"),
        (("Not Found", "/lines/17/"), "Not Found: /lines/17/"),
        (("Not Found", 17), "Not Found: 17"),
    ],
)
def test_tokens_in_paths_are_starred(args: tuple[object, ...], written: str) -> None:
    record = logging.LogRecord("django.request", logging.WARNING, "", 0, "%s: %s", args, None)
    assert HidesTokens().filter(record)
    assert record.getMessage() == written


def test_named_arguments_and_bare_messages_are_starred_too() -> None:
    named = logging.LogRecord("x", logging.INFO, "", 0, "at %(path)s", ({"path": "/setup/k3Y/"},), None)
    bare = logging.LogRecord("x", logging.INFO, "", 0, "at /invitations/k3Y/", None, None)
    for record in (named, bare):
        HidesTokens().filter(record)
        assert "k3Y" not in record.getMessage()


def handler_as_configured() -> tuple[logging.Handler, StringIO]:
    """The handler of the settings, writing where it can be read."""
    config: dict[str, Any] = {**settings.LOGGING, "root": {}, "loggers": {}}
    configurator = logging.config.DictConfigurator(config)
    filters = {name: configurator.configure_filter(what) for name, what in config["filters"].items()}
    written = StringIO()
    handler = logging.StreamHandler(written)
    for name in config["handlers"]["stderr"]["filters"]:
        handler.addFilter(filters[name])
    return handler, written


def test_a_refused_invitation_leaves_no_token_in_what_is_written(db: None, client: Client) -> None:
    handler, written = handler_as_configured()
    logger = logging.getLogger("django.request")
    logger.addHandler(handler)
    try:
        client.get("/invitations/k3Y-secret-9/")
    finally:
        logger.removeHandler(handler)
    assert "/invitations/***/" in written.getvalue()
    assert "k3Y-secret-9" not in written.getvalue()
