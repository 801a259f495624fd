"""Pages about signing in and about oneself in a real browser, and a passkey from adding to using it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings as django_settings
from django.urls import reverse
from playwright.sync_api import Page, expect

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Organisation
from oneonone.serving import setup_link
from tests.browser.conftest import Desk
from tests.browser.test_pages import LOOKS, check
from tests.scene import invite_report

pytestmark = pytest.mark.browser

PASSWORD = "seven lamps on a long quay"


@pytest.fixture
def tomas(report: Person) -> Person:
    """Tomas with a password."""
    report.set_password(PASSWORD)
    report.save()
    return report


@pytest.fixture
def organisation(db: None) -> Organisation:
    """The ferry company."""
    return Organisation.objects.create(name="Alder Quay Ferries", created_at=clock.now())


def sign_in(page: Page, person: Person) -> None:
    page.goto(reverse("account_login"))
    page.get_by_label("E-mail address").fill(person.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def show_again(page: Page) -> None:
    page.goto(reverse("account_reauthenticate"))
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Continue").click()


@pytest.mark.parametrize(("width", "dark"), LOOKS)
class TestPages:
    def test_on_the_way_in(self, width: int, dark: bool, desk: Desk, organisation: Organisation) -> None:
        page = desk.window(None, width=width, dark=dark)
        names = ("account_login", "account_signup", "account_request_login_code", "account_reset_password")
        for name in (*names, "account_inactive", "privacy"):
            check(page, reverse(name))

    def test_a_refused_sign_in(self, width: int, dark: bool, desk: Desk, tomas: Person) -> None:
        page = desk.window(None, width=width, dark=dark)
        page.goto(reverse("account_login"))
        page.get_by_label("E-mail address").fill(tomas.email)
        page.get_by_label("Password").fill("seven lamps on a short quay")
        page.get_by_role("button", name="Sign in", exact=True).click()
        expect(page.get_by_text("or the password is wrong").first).to_be_visible()
        expect(page.get_by_label("E-mail address")).to_have_value(tomas.email)

    def test_ones_own_account(
        self, width: int, dark: bool, desk: Desk, tomas: Person, organisation: Organisation
    ) -> None:
        page = desk.window(None, width=width, dark=dark)
        sign_in(page, tomas)
        for name in ("account_reauthenticate", "mfa_index", "sessions", "account_change_password"):
            check(page, reverse(name))
        show_again(page)
        for name in ("account_email", "mfa_activate_totp", "mfa_list_webauthn", "mfa_add_webauthn"):
            check(page, reverse(name))

    def test_an_invitation(
        self,
        width: int,
        dark: bool,
        desk: Desk,
        manager: Person,
        outsider: Person,
        organisation: Organisation,
    ) -> None:
        links = [invite(manager, email) for email in ("ada@example.org", outsider.email)]
        for person in (None, outsider):
            page = desk.window(person, width=width, dark=dark)
            for link in links:
                check(page, link)

    def test_the_first_steps(self, width: int, dark: bool, desk: Desk, setup_page: str) -> None:
        check(desk.window(None, width=width, dark=dark), setup_page)


def invite(manager: Person, email: str) -> str:
    """The link of an invitation to be the manager's report."""
    now = clock.now()
    made = invite_report(manager, "Ada Brook", email=email, now=now)
    assert made.token
    return reverse("invitation", args=[made.token])


@pytest.fixture
def setup_page(db: None) -> Iterator[str]:
    """The address that the terminal shows."""
    folder = Path(django_settings.DATA)
    yield reverse("setup", args=[setup_link.issue(folder)])
    setup_link.withdraw(folder)


def test_somebody_new_joins_by_invitation_without_script(desk: Desk, manager: Person) -> None:
    page = desk.window(None, script=False)
    page.goto(invite(manager, "ada@example.org"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Ines Okafor invites you")
    page.get_by_label("Your name").fill("Ada Brook")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_label("Time zone").select_option("Europe/London")
    page.get_by_role("button", name="Accept and create my account").click()
    # Without a mail server, as here, the link may be in anybody's hands: one signs in as a step of its own.
    expect(page.get_by_text("Sign in with your address now.")).to_be_visible()
    page.get_by_label("Address").fill("ada@example.org")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.wait_for_url(f"**{reverse('next')}")
    line = Line.objects.get()
    expect(page.get_by_text(f"with {manager.name}").first).to_be_visible()
    assert line.report
    assert line.report.name == "Ada Brook"


def test_a_passkey_stands_in_for_the_password(desk: Desk, tomas: Person) -> None:
    """Under the same content security policy as every page, with a key that the browser makes up."""
    page = desk.window(None)
    keys = page.context.new_cdp_session(page)
    keys.send("WebAuthn.enable")
    keys.send(
        "WebAuthn.addVirtualAuthenticator",
        {
            "options": {
                "protocol": "ctap2",
                "transport": "internal",
                "hasResidentKey": True,
                "hasUserVerification": True,
                "isUserVerified": True,
            }
        },
    )
    sign_in(page, tomas)
    show_again(page)
    page.goto(reverse("mfa_add_webauthn"))
    page.get_by_label("Name").fill("Harbour telephone")
    page.get_by_label("Use it instead of the password").check()
    page.get_by_role("button", name="Add it").click()
    page.wait_for_url(re.compile("recovery-codes|webauthn/$"))
    page.goto(reverse("mfa_list_webauthn"))
    expect(page.get_by_role("rowheader", name="Harbour telephone")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in", exact=True)).to_be_visible()
    page.goto(reverse("account_login"))
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    check(page, reverse("mfa_list_webauthn"))


@pytest.mark.parametrize(("script", "zone"), [(True, "Pacific/Auckland"), (False, "Europe/London")])
def test_somebody_new_is_offered_the_zone_of_their_browser(
    script: bool, zone: str, desk: Desk, organisation: Organisation, manager: Person
) -> None:
    """Without script the inviter's; what was chosen stays when the form is refused."""
    made = invite_report(manager, now=clock.now())
    context = desk.browser.new_context(
        base_url=desk.url, timezone_id="Pacific/Auckland", java_script_enabled=script
    )
    desk.contexts.append(context)
    page = context.new_page()
    page.goto(reverse("invitation", args=[made.token]))
    asked = page.get_by_label("Time zone")
    expect(asked).to_have_value(zone)
    asked.select_option("Asia/Tokyo")
    with page.expect_navigation():
        page.get_by_label("Your name").press("Enter")
    expect(asked).to_have_value("Asia/Tokyo")
