"""The one real browser of a test process. Playwright can only be started once in it."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

from tests.needs import chromium
from tests.web.gallery.browser import FLAGS

# Playwright's synchronous face keeps an event loop in the thread of the tests, where Django would refuse to
# read rows from then on.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, without a window; each test opens contexts of its own in it."""
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        yield launched
        launched.close()
