"""Where the focus is when somebody writes: in the field, before and after, so that nothing typed is lost."""

from __future__ import annotations

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from accounts.models import Person
from oneonone.models import Line, MarginNote, Meeting, RecordLine
from oneonone.services.meetings import meetings
from tests.browser.conftest import Desk
from tests.scene import AFTER, Brought, placement_of

pytestmark = pytest.mark.browser


def test_a_line_that_is_kept_leaves_its_field_empty_and_focused(
    desk: Desk, under_way_meeting: Meeting, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse("meeting-live", args=[under_way_meeting.pk]))
    field = page.get_by_label("A line for the record")
    field.fill("The first")
    with page.expect_navigation():
        page.get_by_role("button", name="Add the line").click()
    for words, keys in (("The second", "Control+Enter"), ("The third", "Meta+Enter")):
        expect(field).to_be_focused()
        expect(field).to_have_value("")
        page.keyboard.type(words)
        with page.expect_navigation():
            page.keyboard.press(keys)
    expect(field).to_be_focused()
    expect(field).to_be_in_viewport()
    kept = RecordLine.objects.filter(meeting=under_way_meeting).order_by("at", "id")
    assert {line.words for line in kept} == {"The first", "The second", "The third"}


def test_enter_alone_begins_a_line_of_text_and_sends_nothing(
    desk: Desk, under_way_meeting: Meeting, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse("meeting-live", args=[under_way_meeting.pk]))
    field = page.get_by_label("A line for the record")
    field.press_sequentially("One\nTwo")
    expect(field).to_have_value("One\nTwo")
    assert not RecordLine.objects.filter(meeting=under_way_meeting).exists()


def test_a_line_kept_at_a_topic_of_the_record_leaves_the_field_of_that_topic_open(
    desk: Desk, under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    under_way = under_way_meeting
    running = placement_of(brought.licence)
    meetings.go_on(
        meeting=under_way, to=running, continues=False, actor=report, now=AFTER, version=under_way.version
    )
    meetings.close(meeting=under_way, actor=report, now=AFTER)
    page = desk.window(report)
    page.goto(reverse("record", args=[under_way.pk]))
    topic = page.locator(f"#topic-{brought.licence.pk}")
    topic.locator("summary").click()  # nothing is written there yet: the title opens the form
    field = topic.get_by_label("A line for the record")
    expect(field).to_be_focused()
    page.keyboard.type("Booked for May.")
    with page.expect_navigation():
        page.keyboard.press("Control+Enter")
    expect(field).to_be_visible()
    expect(field).to_be_focused()
    expect(field).to_have_value("")


def write_a_note(page: Page) -> None:
    page.get_by_text("Write a note").first.click()
    # On the agenda the box is fetched first.
    expect(page.locator("textarea[name=words]:focus")).to_be_visible()
    page.keyboard.type("Ask for the dates first")
    with page.expect_navigation():
        page.keyboard.press("Control+Enter")


@pytest.mark.parametrize("where", ["meeting", "meeting-live"])
def test_write_a_note_opens_with_the_focus_in_the_box(
    where: str, desk: Desk, under_way_meeting: Meeting, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse(where, args=[under_way_meeting.pk]))
    write_a_note(page)
    expect(page.locator(".note-words").first).to_have_text("Ask for the dates first")
    assert MarginNote.objects.of(report).count() == 1


def test_a_note_is_gone_on_with_behind_what_is_there(
    desk: Desk, under_way_meeting: Meeting, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse("meeting-live", args=[under_way_meeting.pk]))
    write_a_note(page)
    page.get_by_text("Change the note").click()
    page.keyboard.type(", then for the cost")
    with page.expect_navigation():
        page.keyboard.press("Control+Enter")
    expect(page.locator(".note-words")).to_have_text("Ask for the dates first, then for the cost")


def test_add_a_topic_over_the_agenda_leads_into_the_field(
    desk: Desk, issued_meeting: Meeting, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse("meeting", args=[issued_meeting.pk]))
    page.get_by_role("link", name="Add a topic").click()
    expect(page.get_by_label("A topic, in one line")).to_be_focused()


def test_take_something_on_opens_in_its_first_field(
    desk: Desk, under_way_meeting: Meeting, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse("meeting-live", args=[under_way_meeting.pk]))
    page.get_by_text("Add a commitment").click()
    assert page.evaluate("document.activeElement.name") == "owner"


def test_add_a_topic_on_the_first_page_leads_into_the_field(
    desk: Desk, meeting: Meeting, line: Line, report: Person
) -> None:
    page = desk.window(report)
    page.goto(reverse("next"))
    with page.expect_navigation():
        page.get_by_role("link", name="Add a topic").first.click()
    page.keyboard.type("Fenders on berth two")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert line.topics.filter(title="Fenders on berth two").exists()
