"""Two people in two browsers on a running server, signed in without going through the form."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest
from django.conf import settings as django_settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page
from pytest_django.fixtures import Settings
from pytest_django.live_server_helper import LiveServer

from accounts.models import Person


@dataclass
class Desk:
    """Opens windows on the server for people, and fails the test on any fault in any of them."""

    browser: Browser
    url: str
    contexts: list[BrowserContext] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)

    def window(
        self, person: Person | None, *, width: int = 1280, dark: bool = False, script: bool = True
    ) -> Page:
        """A window of ``person``, or of nobody, at a width, in light or dark, with or without script."""
        context = self.browser.new_context(
            base_url=self.url,
            viewport={"width": width, "height": 900},
            locale="en-GB",
            timezone_id="Europe/London",
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce",
            java_script_enabled=script,
        )
        context.set_default_timeout(8000)
        self.contexts.append(context)
        if person is not None:
            client = Client()
            client.force_login(person)
            name = django_settings.SESSION_COOKIE_NAME
            context.add_cookies(
                [{"name": name, "value": client.cookies[name].value, "url": self.url, "httpOnly": True}]
            )
        page = context.new_page()
        page.on("pageerror", lambda error: self.faults.append(f"{page.url}: {error}"))
        page.on("console", lambda message: self._console(page, message))
        return page

    def _console(self, page: Page, message: ConsoleMessage) -> None:
        # A refused form is answered with 422, which browsers report as an error of loading.
        if message.type in ("error", "warning") and "422" not in message.text:
            self.faults.append(f"{page.url}: {message.text}")


OpenDesk = Callable[[], Desk]


@pytest.fixture
def desk(browser: Browser, live_server: LiveServer, settings: Settings, held_clock: object) -> Iterator[Desk]:
    """The server at an address of its own, and the windows on it; the clock stands at the cast's ``now``."""
    settings.BASE_URL = live_server.url
    opened = Desk(browser, live_server.url)
    yield opened
    for context in opened.contexts:
        context.close()
    assert not opened.faults, opened.faults
