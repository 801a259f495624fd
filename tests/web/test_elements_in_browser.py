"""The elements in a real browser: accessible, inside every width, true to their minutes, usable by keys."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.web.gallery import render
from tests.web.gallery.browser import Site, chromium, site

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        chromium() is None and "ONEONONE_REQUIRE_ALL" not in os.environ, reason="no Chromium on this machine"
    ),
]

WCAG_22_AA = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
PAGES = ["/gallery", "/signed-out", "/404", "/500"]

BOXES = """() => {
  const rem = name => parseFloat(getComputedStyle(document.documentElement).getPropertyValue(name));
  return [...document.querySelectorAll(".rail:not(.rail-slim) .rail-slot")].map(slot => {
  const box = slot.querySelector(".topic");
  const minutes = parseInt(getComputedStyle(slot).getPropertyValue("--minutes"));
  return {
    minutes,
    height: slot.getBoundingClientRect().height,
    wanted: minutes * rem("--minute") * 16,
    clipped: box.scrollHeight > box.clientHeight + 1 || box.getBoundingClientRect().bottom
      > slot.getBoundingClientRect().bottom + 1,
    side: box.className.split(" ")[1],
    start: box.getBoundingClientRect().left,
    end: box.getBoundingClientRect().right,
  };
  });
}"""

OUTSIDE = """() => [...document.querySelectorAll("body *")].filter(node => {
  const box = node.getBoundingClientRect();
  return box.width > 1 && box.height > 1 && box.right > innerWidth + 1 && !node.closest("thead")
    && !node.parentElement.closest(".rail:not(.rail-slim) .topic");  // cut, as it is drawn to time
}).map(node => node.outerHTML.slice(0, 80))"""

SMALL = """() => [
  ...document.querySelectorAll("a, button, input, select, textarea, summary")
].filter(node => {
  const target = (node.type === "checkbox" || node.type === "radio") ? node.closest("label") : node;
  const box = target.getBoundingClientRect();
  return box.width > 1 && (box.width < 24 || box.height < 24);
}).map(node => node.outerHTML.slice(0, 80))"""


def widen(page: Page, width: int) -> None:
    """Give the window a width, and wait a little until the page is laid out for it."""
    page.set_viewport_size({"width": width, "height": 900})
    for _ in range(50):
        if page.evaluate("document.documentElement.clientWidth") == width:
            return
        page.wait_for_timeout(20)


@pytest.fixture(scope="module")
def served() -> Iterator[Site]:
    with site() as server:
        server.pages = {
            "/gallery": render.page(),
            "/leftwards": render.page().replace('dir="ltr"', 'dir="rtl"'),
            "/signed-out": render.page("signed_out.html"),
            **{f"/{fault}": render.page(f"{fault}.html") for fault in ("404", "500")},
        }
        yield server


@pytest.fixture(scope="module")
def contexts(browser: Browser) -> Iterator[dict[str, BrowserContext]]:
    """One context for each way of looking, so that its cache keeps the styles from test to test."""
    opened: dict[str, BrowserContext] = {}
    yield opened
    for context in opened.values():
        context.close()


@pytest.fixture
def open_page(browser: Browser, contexts: dict[str, BrowserContext], served: Site) -> Iterator[Any]:
    """Opens a page at a width; the test fails on any page error, console fault or policy violation."""
    faults: list[str] = []
    pages: list[Page] = []

    def open_(path: str = "/gallery", width: int = 1280, **options: Any) -> Page:
        if str(options) not in contexts:
            contexts[str(options)] = browser.new_context(reduced_motion="reduce", **options)
        page = contexts[str(options)].new_page()
        pages.append(page)
        page.set_viewport_size({"width": width, "height": 900})
        page.set_default_timeout(8000)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda m: faults.append(m.text) if m.type in ("error", "warning") else None)
        page.goto(served.url(path))
        return page

    yield open_
    for page in pages:
        page.close()
    assert faults == []


def violations(page: Page) -> list[str]:
    result = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG_22_AA}})
    return [f"{found['id']}: {found['nodes'][0]['html']}" for found in result.response["violations"]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    ("path", "width"), [("/gallery", 1280), ("/gallery", 360), ("/signed-out", 360), ("/404", 360)]
)
def test_axe_finds_nothing(open_page: Any, path: str, width: int, scheme: str) -> None:
    page = open_page(path, width, color_scheme=scheme)
    page.evaluate("document.querySelectorAll('details').forEach(more => { more.open = true; })")
    assert violations(page) == []


def test_axe_would_find_a_fault(open_page: Any) -> None:
    page = open_page()
    page.evaluate("document.querySelector('label[for=id_title]').remove()")
    page.evaluate("document.querySelector('.lead').classList.replace('lead', 'planted')")
    page.evaluate("document.querySelector('.planted').style.color = 'silver'")
    assert {found.partition(":")[0] for found in violations(page)} >= {"label", "color-contrast"}


@pytest.mark.parametrize("path", PAGES)
def test_nothing_lies_outside_the_page(open_page: Any, path: str) -> None:
    """WCAG 2.2, 1.4.10: no scrolling in two directions down to 320 CSS pixels."""
    page = open_page(path)
    for width in (320, 360, 480, 767, 800, 959, 1280):
        widen(page, width)
        assert page.evaluate(OUTSIDE) == []
        assert page.evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize("width", [320, 1280])
def test_nothing_lies_outside_a_page_written_from_right_to_left(open_page: Any, width: int) -> None:
    page = open_page("/leftwards", width)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    boxes = {box["side"]: box for box in page.evaluate(BOXES)}
    assert boxes["topic-manager"]["start"] > boxes["topic-report"]["start"]


@pytest.mark.parametrize("path", ["/gallery", "/signed-out", "/404"])
def test_targets_are_large_enough(open_page: Any, path: str) -> None:
    """WCAG 2.2, 2.5.8: 24 by 24 CSS pixels."""
    page = open_page(path)
    for width in (360, 1280):
        widen(page, width)
        assert page.evaluate(SMALL) == []


@pytest.mark.parametrize("width", [320, 800, 1280])
def test_boxes_are_as_tall_as_their_minutes_and_never_shorter_than_their_words(
    open_page: Any, width: int
) -> None:
    boxes = open_page(width=width).evaluate(BOXES)
    assert [box["minutes"] for box in boxes] == [10, 13, 7, 8, 5, 3, 4]
    for box in boxes:
        assert box["height"] >= box["wanted"] - 1
        assert not box["clipped"]
    if width == 1280:
        true_to_time = [box for box in boxes if box["minutes"] in (10, 7, 8, 5)]
        assert [round(box["height"] - box["wanted"]) for box in true_to_time] == [0, 0, 0, 0]


def test_the_halves_are_columns_on_a_wide_screen_and_indents_on_a_phone(open_page: Any) -> None:
    for width in (1280, 360):
        boxes = {box["side"]: box for box in open_page(width=width).evaluate(BOXES)}
        manager, report, both = (boxes[f"topic-{side}"] for side in ("manager", "report", "both"))
        assert both["start"] == manager["start"] < report["start"]
        assert manager["end"] < report["end"] == both["end"]
        assert (manager["end"] < report["start"]) == (width == 1280)


def test_the_margin_stands_at_the_height_of_its_topic_or_below_it_on_a_phone(open_page: Any) -> None:
    heights = """() => {
      const slot = document.querySelector("#topic-1");
      const top = name => slot.querySelector(name).getBoundingClientRect().top;
      const bottom = slot.querySelector(".topic").getBoundingClientRect().bottom;
      return [top(".topic"), top(".rail-margin"), bottom];
    }"""
    topic, margin, _ = open_page(width=1280).evaluate(heights)
    assert abs(topic - margin) < 8
    topic, margin, bottom = open_page(width=360).evaluate(heights)
    assert margin >= bottom


def test_where_the_system_chooses_colours_state_keeps_its_shape(open_page: Any) -> None:
    page = open_page(forced_colors="active")
    widths = "node => getComputedStyle(node).borderBlockEndWidth"
    current = page.get_by_role("link", name="Agenda", exact=True)
    assert current.evaluate(widths) == "3px"
    assert page.locator(".standing-over .standing-shape").first.evaluate(widths) != "0px"


def test_the_first_key_leads_past_the_header(open_page: Any) -> None:
    page = open_page("/signed-out")
    page.keyboard.press("Tab")
    assert page.locator(":focus").inner_text() == "Skip to the page"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert page.locator(":focus").get_attribute("name") == "new-title"


def test_what_has_to_change_takes_the_focus_and_leads_to_the_field(open_page: Any) -> None:
    page = open_page()
    assert page.locator(":focus").get_attribute("class") == "error-summary"
    page.get_by_role("link", name="Minutes wanted").click()
    assert page.locator(":focus").get_attribute("name") == "minutes"


def test_a_form_on_its_way_is_not_sent_twice_and_loses_nothing(open_page: Any, served: Site) -> None:
    page = open_page()
    served.sent.clear()
    served.answer_after.clear()
    busy, typed = page.evaluate("""() => {
      const form = document.querySelector("form[action='/topics']");
      form.elements.title.value = "Radio procedure";
      const button = [...form.elements].find(control => control.textContent.includes("Put it on the agenda"));
      button.click();
      button.click();
      return [form.getAttribute("aria-busy"), new FormData(form).get("title")];
    }""")
    assert (busy, typed) == ("true", "Radio procedure")
    served.answer_after.set()
    page.wait_for_function("() => !document.querySelector('form[aria-busy]')")
    assert served.sent == ["/topics"]


def test_a_topic_is_moved_by_key_and_keeps_the_focus(open_page: Any, served: Site) -> None:
    page = open_page()
    served.sent.clear()
    page.locator("#topic-1 summary").first.focus()
    with page.expect_navigation():
        page.keyboard.press("Alt+ArrowDown")
    assert served.sent == ["/t1/move/"]
    expect(page.locator("#topic-1 h3 a")).to_be_focused()


def test_a_page_works_without_script(open_page: Any, served: Site) -> None:
    page = open_page(java_script_enabled=False)
    served.sent.clear()
    # Without script nothing tells a click from its navigation: a page closed on its way may never answer.
    with page.expect_navigation():
        page.get_by_role("button", name="Start the meeting").click()
    assert served.sent == ["/start"]


def test_print_leaves_the_chrome_and_the_acts_out(open_page: Any) -> None:
    page = open_page()
    page.emulate_media(media="print")
    for gone in (".site-head", ".site-foot", ".demo-bar", ".tabs", ".page-header .actions"):
        assert not page.locator(gone).first.is_visible()
    assert page.get_by_role("heading", name="Winter timetable").first.is_visible()
