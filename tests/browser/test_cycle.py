"""The whole cycle by two people in two browsers, with the clock moved: invited, prepared, held, carried."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from django.core.cache import cache
from playwright.sync_api import Page, expect
from pytest_django.fixtures import Settings

from accounts.models import Person
from oneonone import clock, mailfolder
from oneonone.mailfolder import Letter
from oneonone.models import Carry, Commitment, Meeting
from tasks import schedule
from tests.browser.conftest import Desk

pytestmark = pytest.mark.browser

TOPIC, HIS_TOPIC = "Crane slot at the Skerry pontoon", "One sheet for the shift handover"
PROMISE, HIS_PROMISE = "Ask the harbour for a crane slot", "Draft the handover sheet"
NOTE = "Start with the two days it went wrong."
PASSWORD = "harbour lamp over the early boat"


@pytest.fixture
def post(settings: Settings, tmp_path: Path) -> Path:
    """Mail lands in a folder, as in the demo."""
    settings.MAIL_FOLDER, settings.MAIL_CAN_LEAVE = tmp_path / "mail", True
    settings.EMAIL_BACKEND = "oneonone.mailfolder.EmailBackend"
    return tmp_path / "mail"


def at(instant: str) -> None:
    """Put the clock to an instant in UTC and let the jobs run, twice: the second run changes nothing."""
    now = dt.datetime.fromisoformat(instant).replace(tzinfo=dt.UTC)
    clock.hold_at(now)
    schedule.run_once(now)
    before = Carry.objects.count(), Meeting.objects.count()
    schedule.run_once(now)
    assert (Carry.objects.count(), Meeting.objects.count()) == before
    cache.clear()


def letters_to(post: Path, address: str) -> list[Letter]:
    return [letter for letter in mailfolder.letters(post) if address in letter.to]


def add_topic(page: Page, title: str, kind: str) -> None:
    page.get_by_label("A topic, in one line").fill(title)
    page.get_by_label("Kind", exact=True).first.select_option(label=kind)
    page.get_by_label("A topic, in one line").press("Enter")
    expect(page.get_by_role("heading", name=title)).to_be_visible()


def invite(ines: Page) -> None:
    ines.goto("/")
    ines.get_by_role("link", name="Invite somebody to meet").click()
    ines.get_by_label("Name", exact=True).fill("Tomas Lindqvist")
    ines.get_by_label("E-mail address").fill("tomas.lindqvist@example.org")
    ines.get_by_label("First time on").fill("2026-12-03")
    ines.get_by_label("Length").fill("30")
    ines.get_by_role("button", name="Invite").click()
    expect(ines.get_by_role("heading", name="Tomas Lindqvist")).to_be_visible()


def accept(tomas: Page, post: Path) -> None:
    schedule.run_once(clock.now())
    (letter,) = letters_to(post, "tomas.lindqvist@example.org")
    link = re.search(r"https?://\S+/invitations/\S+", letter.text)
    assert link is not None
    tomas.goto(link.group())
    tomas.get_by_label("Password", exact=True).fill(PASSWORD)
    tomas.get_by_role("button", name="Accept and create my account").click()
    expect(tomas.get_by_role("link", name="Settings")).to_be_visible()


def take_on(page: Page, owner: str, action: str, date: str) -> None:
    page.get_by_text("Add a commitment").click()
    page.get_by_label(owner, exact=True).check()
    page.get_by_label("Does what").fill(action)
    page.get_by_label("By", exact=True).fill(date)
    page.get_by_role("button", name="Add the commitment").click()


def test_from_the_invitation_to_the_promise_that_comes_back(desk: Desk, post: Path, manager: Person) -> None:
    ines, tomas = desk.window(manager), desk.window(None)
    invite(ines)
    accept(tomas, post)

    # Both bring topics, and each keeps a margin that the other never gets.
    for page, title, kind in ((ines, TOPIC, "obstacle"), (tomas, HIS_TOPIC, "idea")):
        page.goto("/")
        page.get_by_role("link", name="Add a topic").first.click()
        add_topic(page, title, kind)
    slot = tomas.locator("li, div").filter(has=tomas.get_by_role("heading", name=TOPIC)).last
    expect(slot).to_be_visible()
    tomas.get_by_role("button", name=f"Unclear: {TOPIC}").or_(
        tomas.get_by_role("button", name=re.compile("Unclear"))
    ).first.click()
    tomas.get_by_text("Write a note").first.click()
    tomas.locator("textarea[name=words]:visible").first.fill(NOTE)
    tomas.get_by_role("button", name=re.compile("^Save")).first.click()
    expect(tomas.get_by_text(NOTE).first).to_be_visible()
    ines.reload()
    assert NOTE not in ines.content()

    # The order is issued by itself, one working day before at noon, and reaches both.
    at("2026-12-02T12:00:00")
    ines.reload()
    expect(ines.get_by_text("Order issued")).to_be_visible()
    at("2026-12-03T08:00:00")

    # The meeting: they start, go through the topics, write down what was said, and take things on.
    clock.hold_at(dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC))
    ines.reload()
    ines.get_by_role("button", name="Start the meeting").click()
    ines.get_by_role("button", name=re.compile("First topic")).click()
    expect(ines.get_by_role("heading", level=1, name=TOPIC)).to_be_visible()
    ines.get_by_label("A line for the record").fill("The harbour gives slots a month ahead only.")
    ines.get_by_role("button", name="Add the line").click()
    take_on(ines, "I", PROMISE, "2026-12-10")
    tomas.goto("/")
    tomas.get_by_role("link", name=re.compile("Go on")).click()
    expect(tomas.get_by_text("The harbour gives slots a month ahead only.")).to_be_visible()
    take_on(tomas, "I", HIS_PROMISE, "2026-12-15")
    ines.goto("/")
    ines.get_by_role("link", name=re.compile("Go on")).click()
    ines.get_by_role("button", name=re.compile("^Read back")).click()
    expect(ines.get_by_text(HIS_PROMISE).first).to_be_visible()
    clock.hold_at(dt.datetime(2026, 12, 3, 10, 28, tzinfo=dt.UTC))
    ines.get_by_role("button", name=re.compile("Close the meeting")).click()
    expect(ines.get_by_text("The harbour gives slots a month ahead only.").first).to_be_visible()

    # The reminder is in the mail folder the working day before, and holds nobody's words.
    at("2026-12-09T00:05:00")
    at("2026-12-09T08:30:00")
    reminders = letters_to(post, "ines.okafor@example.org")
    assert "10 December" in reminders[0].text or "10 December" in reminders[-1].text
    for letter in mailfolder.letters(post):
        for words in (TOPIC, HIS_TOPIC, PROMISE, HIS_PROMISE, NOTE):
            assert words not in letter.text
            assert words not in letter.subject

    # Undone, both are on the next agenda, once, with their original dates; so is the topic not reached.
    assert Commitment.objects.get(action=PROMISE).original_date == dt.date(2026, 12, 10)
    at("2026-12-17T09:00:00")
    for page in (ines, tomas):
        page.goto("/")
        page.get_by_role("link", name=re.compile("17 December")).first.click()
        expect(page.get_by_text(PROMISE).first).to_be_visible()
        expect(page.get_by_text(HIS_PROMISE).first).to_be_visible()
        expect(page.get_by_role("heading", name=HIS_TOPIC)).to_be_visible()
    assert Carry.objects.count() == 2
