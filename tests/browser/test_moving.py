"""Topics moved in a real browser: by pointer, by finger and by keys alone, with what it costs said before."""

from __future__ import annotations

import datetime as dt

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from accounts.models import Person
from oneonone.models import Line, Meeting
from oneonone.services.agenda import issuing
from tests.browser.conftest import Desk
from tests.browser.test_pages import OUTSIDE, WCAG_22_AA
from tests.scene import Brought, make_topic, placement_of
from tests.services.agenda.test_placement_by_hand import stiff

pytestmark = pytest.mark.browser

TITLES = "items => items.map(item => item.querySelector('h3').textContent)"


def order_on(page: Page) -> list[str]:
    shown: list[str] = page.locator("[data-move-item]").evaluate_all(TITLES)
    return shown


def open_agenda(desk: Desk, meeting: Meeting, person: Person) -> Page:
    page = desk.window(person)
    page.goto(reverse("meeting", args=[meeting.pk]))
    return page


def grab(page: Page, place: int) -> None:
    """Put the pointer on the grip of the topic at a place, counted from 0, and press."""
    grip = page.locator(".topic-grip").nth(place)
    grip.scroll_into_view_if_needed()
    box = grip.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()


def over(page: Page, place: int) -> None:
    """Move the pointer to the lower half of the topic at a place."""
    box = page.locator("[data-move-item]").nth(place).bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 300, box["y"] + box["height"] * 0.8, steps=5)


def test_a_topic_dropped_behind_another_one_is_moved_there_and_said(
    desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = open_agenda(desk, issued_meeting, report)
    first, second, third, *_rest = order_on(page)
    grab(page, 0)
    over(page, 1)
    expect(page.locator("#drag-status")).to_have_text(f"Before “{third}”")
    with page.expect_navigation():
        page.mouse.up()
    assert order_on(page)[:3] == [second, first, third]
    expect(page.get_by_role("status").first).to_contain_text(f"“{first}” begins at")
    page.get_by_role("button", name="Undo the last move").click()
    expect(page.get_by_role("status").first).to_contain_text("The last move is taken back.")
    assert order_on(page)[:2] == [first, second]


def on_the_clock(page: Page, place: int, minutes: int) -> None:
    """Move the pointer to the clock, so many minutes into the slot at a place."""
    slot = page.locator("[data-move-item]").nth(place)
    box, clock = slot.bounding_box(), slot.locator(".rail-clock").bounding_box()
    assert box is not None
    assert clock is not None
    long = int(slot.evaluate("slot => getComputedStyle(slot).getPropertyValue('--minutes')"))
    page.mouse.move(clock["x"] + 10, box["y"] + box["height"] * (minutes + 0.5) / long, steps=5)


def test_a_topic_dropped_on_the_clock_begins_then_once_its_cost_was_seen(
    desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = open_agenda(desk, issued_meeting, report)
    first, *_rest = order_on(page)
    begins = page.locator("[data-move-item] .rail-clock time").nth(1).get_attribute("datetime")
    assert begins is not None
    hour, minute = int(begins[11:13]), int(begins[14:16]) + 2
    grab(page, 0)
    expect(page.locator("#drag-status")).to_have_text(
        "Let go between topics for a place, on the clock for a start."
    )
    on_the_clock(page, 1, 2)
    expect(page.locator("#drag-status")).to_have_text(f"Start at {hour:02}:{minute:02}")
    expect(page.locator(".drop-start")).to_have_count(1)
    with page.expect_navigation():
        page.mouse.up()
    if (take := page.get_by_role("button", name="Take it", exact=True)).count():
        take.click()
    expect(page.get_by_role("status").first).to_contain_text(f"“{first}” begins at {hour:02}:{minute:02}")
    placed = issued_meeting.placements.get(topic__title=first)
    assert placed.pinned_minute == (hour - 10) * 60 + minute


@pytest.mark.parametrize("onto", ["another place", "the clock"])
def test_whoever_comes_back_after_a_drag_finds_the_buttons_as_they_were(
    onto: str, desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = open_agenda(desk, issued_meeting, report)
    page.evaluate("window.addEventListener('submit', event => event.preventDefault())")
    forms = "forms => forms.map(form => [form.action, [...new FormData(form).keys()], form.elements.length])"
    before = page.locator("form#agenda-acts").evaluate_all(forms)
    assert before
    grab(page, 0)
    if onto == "another place":
        over(page, 2)
    else:
        on_the_clock(page, 1, 2)
    page.mouse.up()
    assert page.locator("form#agenda-acts").evaluate_all(forms) == before


def test_escape_and_letting_go_where_it_was_leave_the_order(
    desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = open_agenda(desk, issued_meeting, report)
    before = order_on(page)
    grab(page, 0)
    over(page, 2)
    expect(page.locator(".drop-before, .drop-after")).to_have_count(1)
    page.keyboard.press("Escape")
    expect(page.locator(".drop-before, .drop-after, .dragged")).to_have_count(0)
    page.mouse.up()
    grab(page, 1)
    over(page, 3)
    over(page, 1)
    page.mouse.up()
    page.reload()
    assert order_on(page) == before
    assert issued_meeting.orders.count() == 1


def test_a_finger_drags_by_the_grip_and_scrolls_everywhere_else(
    desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = open_agenda(desk, issued_meeting, report)
    touch = "nodes => nodes.map(node => getComputedStyle(node).touchAction)"
    assert set(page.locator(".topic-grip").evaluate_all(touch)) == {"none"}
    assert set(page.locator(".topic, .topic-title, .rail-slot").evaluate_all(touch)) == {"auto"}
    first, second, *_rest = order_on(page)
    finger = page.context.new_cdp_session(page)
    grip, goal = page.locator(".topic-grip").first, page.locator("[data-move-item]").nth(1)
    grip.scroll_into_view_if_needed()
    start, end = grip.bounding_box(), goal.bounding_box()
    assert start is not None
    assert end is not None
    x, y = start["x"] + 8, start["y"] + 8
    finger.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 6):
        at = y + (end["y"] + end["height"] * 0.8 - y) * step / 5
        finger.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": at}]})
    with page.expect_navigation():
        finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert order_on(page)[:2] == [second, first]


@pytest.mark.parametrize(("width", "dark"), [(1280, False), (320, True)])
def test_what_a_drop_costs_is_asked_first_and_the_page_that_asks_is_accessible(
    width: int,
    dark: bool,
    desk: Desk,
    meeting: Meeting,
    line: Line,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    stiff(line, report, "The roster", 25)
    dock = stiff(line, manager, "The dock", 10)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    page = desk.window(manager, width=width, dark=dark)
    page.goto(reverse("placement-move", args=[placement_of(dock).pk]))
    page.get_by_label("Start at").fill("10:20")
    page.get_by_role("button", name="Set the start").click()
    expect(page.get_by_role("heading", name="Move “The dock”?")).to_be_visible()
    told = page.locator(".order-told")
    expect(told).to_be_focused()
    expect(told).to_contain_text("It pushes out “The roster”: kept for next time.")
    assert not Axe().run(page, options=WCAG_22_AA).response["violations"]
    assert not page.evaluate(OUTSIDE)
    page.get_by_role("link", name="Leave it as it was").click()
    assert order_on(page) == ["The dock", "The roster"]
    assert placement_of(dock).pinned_minute is None


def test_add_move_set_a_start_take_it_and_undo_by_keys_alone(
    desk: Desk, meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    make_topic(line, manager, "Buoys of the outer channel", minutes=10)
    stiff(line, report, "The roster", 25, importance="if_time")
    page = open_agenda(desk, meeting, report)
    add = page.get_by_label("A topic, in one line")
    add.focus()
    page.keyboard.type("Who has the keys")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Who has the keys")).to_be_visible()
    place = order_on(page).index("Who has the keys")
    item = page.locator("[data-move-item]").nth(place)
    item.get_by_role("link").first.focus()
    page.keyboard.press("Alt+ArrowDown" if place == 0 else "Alt+ArrowUp")
    expect(page.get_by_role("status").first).to_contain_text("“Who has the keys” begins at")
    moved = order_on(page)
    assert moved.index("Who has the keys") == (1 if place == 0 else place - 1)
    # The focus is back in the topic: the next key moves it on.
    assert page.evaluate(
        "document.activeElement.closest('[data-move-item]').querySelector('h3').textContent"
    ) == ("Who has the keys")
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="Move to")).to_be_visible()
    for _press in range(6):
        if page.evaluate("document.activeElement.textContent").startswith("Move to"):
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    start = page.get_by_label("Start at")
    start.focus()
    page.keyboard.type("1020AM")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Move “Who has the keys”?")).to_be_visible()
    expect(page.locator(".order-told")).to_be_focused()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").first).to_contain_text("begins at 10:20")
    undo = page.get_by_role("button", name="Undo the last move")
    undo.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("status").first).to_contain_text("The last move is taken back.")
    assert order_on(page) == moved


def test_everything_is_moved_without_script_too(
    desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    page = desk.window(report, script=False)
    page.goto(reverse("meeting", args=[issued_meeting.pk]))
    assert page.locator(".topic-grip").count() == 0
    shown = page.locator(".topic-title").all_inner_texts()[1:-1]
    page.get_by_role("link", name=shown[-1], exact=True).click()
    page.get_by_role("link", name="Move to").click()
    page.get_by_label(f"Before “{shown[0]}”").check()
    page.get_by_role("button", name="Move it there").click()
    expect(page.get_by_text(f"“{shown[-1]}” begins at 10:04")).to_be_visible()
