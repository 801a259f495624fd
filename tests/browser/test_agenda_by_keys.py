"""The agenda by keys alone: after each act the focus is where one goes on, and what it did is announced."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, Page, expect

from accounts.models import Person
from oneonone.models import Line, Meeting
from tests.browser.conftest import Desk
from tests.scene import placement_of
from tests.services.agenda.test_placement_by_hand import stiff

pytestmark = pytest.mark.browser


def tab_to(page: Page, what: Locator, *, within: int, key: str = "Tab") -> None:
    """Press Tab until ``what`` has the focus; fails when that takes more presses than ``within``."""
    for _press in range(within):
        page.keyboard.press(key)
        if what.evaluate("found => found === document.activeElement"):
            return
    raise AssertionError(f"not reached within {within} presses")


def press(page: Page, what: Locator, *, within: int, key: str = "Tab") -> None:
    """Go to a button or link by Tab and press it; the next page is there when this comes back."""
    tab_to(page, what, within=within, key=key)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def about(act: str, title: str) -> re.Pattern[str]:
    """The name of an act at one topic: the words on it, then the title, which is read and not shown."""
    return re.compile(rf"^{act}\s*:\s*{title}$")


def said(page: Page, words: str) -> None:
    """The status region says so, and is one that a screen reader follows."""
    region = page.get_by_role("status").filter(has_text=words)
    expect(region).to_have_count(1)


def agenda(desk: Desk, meeting: Meeting, person: Person) -> Page:
    page = desk.window(person)
    page.goto(reverse("meeting", args=[meeting.pk]))
    return page


def open_topic(page: Page, title: str, *, within: int) -> Locator:
    """Go to a topic's title by Tab and open what can be done with it, where it stands."""
    link = page.get_by_role("link", name=title, exact=True)
    tab_to(page, link, within=within)
    page.keyboard.press("Enter")
    expect(link).to_have_attribute("aria-expanded", "true")
    expect(page.get_by_role("button", name=about("Park", title))).to_be_visible()
    return link


def test_a_topic_is_added_and_the_next_one_can_be_typed_at_once(
    desk: Desk, meeting: Meeting, line: Line, report: Person
) -> None:
    page = agenda(desk, meeting, report)
    title = page.get_by_label("A topic, in one line")
    tab_to(page, title, within=20)
    for number in ("one", "two"):
        page.keyboard.type(f"Buoy {number}")
        with page.expect_navigation():
            page.keyboard.press("Enter")
        said(page, f"“Buoy {number}” is on the list.")
        expect(title).to_be_focused()
        expect(title).to_have_value("")


def test_a_topic_is_ordered_weighed_and_moved_and_keeps_the_focus(
    desk: Desk, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    stiff(line, manager, "Paint", 20)
    topic = stiff(line, manager, "The dock", 10)
    page = agenda(desk, meeting, report)
    dock = page.locator(f"#topic-{topic.pk}")
    link = open_topic(page, "The dock", within=40)
    press(page, page.get_by_role("button", name=about("Later", "The dock")), within=3)
    said(page, "“The dock” begins at 10:24, not at 10:04.")
    expect(dock).to_be_focused()
    with page.expect_navigation():
        page.keyboard.press("Alt+ArrowUp")
    said(page, "“The dock” begins at 10:04, not at 10:24.")
    expect(link).to_be_focused()
    page.keyboard.press("Enter")
    expect(dock.get_by_text("Why here?")).to_be_visible()
    expect(link).to_be_focused()
    page.keyboard.press("Escape")
    expect(dock.get_by_text("Why here?")).to_have_count(0)
    page.keyboard.press("Enter")
    expect(dock.get_by_text("Why here?")).to_be_visible()
    tab_to(page, dock.get_by_label("To you it comes"), within=9)
    page.keyboard.type("first")
    press(page, dock.get_by_role("button", name=re.compile("Say so")), within=1)
    said(page, "To you “The dock” comes first; both of you see that.")
    expect(dock).to_be_focused()


def test_a_topic_is_brought_in_at_a_time_undone_and_the_order_issued_and_read(
    desk: Desk, meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, manager, "The dock", 25)
    paint = stiff(line, report, "Paint", 20, importance="if_time")
    page = agenda(desk, meeting, report)
    open_topic(page, "Paint", within=50)
    press(page, page.get_by_role("link", name=about("Bring in at a time", "Paint")), within=4)
    tab_to(page, page.get_by_label("Start at"), within=24)
    page.keyboard.type("1012AM")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator(".order-told")).to_be_focused()
    expect(page.locator(".order-told")).to_contain_text("“Paint” gets a place at 10:12, for 20 minutes.")
    expect(page.locator(".order-told")).to_contain_text("It pushes out “The dock”")
    press(page, page.get_by_role("button", name="Take it"), within=1)
    said(page, "“Paint” gets a place at 10:12, for 20 minutes.")
    expect(page.locator(f"#topic-{paint.pk}")).to_be_focused()
    assert placement_of(paint).pinned_minute == 12
    press(page, page.get_by_role("button", name="Undo the last move"), within=12, key="Shift+Tab")
    said(page, "The last move is taken back.")
    expect(page.locator("#order")).to_be_focused()
    assert placement_of(paint).pinned_minute is None
    press(page, page.get_by_role("button", name="Issue the order now"), within=1)
    said(page, "The order is issued.")
    expect(page.locator("#order")).to_be_focused()
    press(page, page.get_by_role("button", name="I have read this order"), within=1)
    said(page, "Marked as read.")


def test_a_topic_that_is_parked_is_found_where_it_has_gone(
    desk: Desk, meeting: Meeting, line: Line, report: Person
) -> None:
    dock = stiff(line, report, "The dock", 10)
    page = agenda(desk, meeting, report)
    open_topic(page, "The dock", within=40)
    press(page, page.get_by_role("button", name=about("Park", "The dock")), within=6)
    said(page, "“The dock” is parked.")
    expect(page.locator(f"#topic-{dock.pk}")).to_be_focused()
    press(page, page.get_by_role("button", name=re.compile("Ask time for it again")), within=1)
    said(page, "“The dock” is on the list.")
    expect(page.locator(f"#topic-{dock.pk}")).to_be_focused()
