"""Every page in a real browser: accessible (WCAG 2.2 AA), inside 320 pixels, light and dark, no fault."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page

from accounts.models import Person
from oneonone import clock
from oneonone.models import Line, Meeting, Organisation
from oneonone.services.agenda import issuing
from oneonone.services.meetings import meetings, time_proposals
from oneonone.services.people import profile
from oneonone.services.private import busy_times
from oneonone.services.record import record
from tests.browser.conftest import Desk
from tests.scene import Brought, TakenOn, placement_of

pytestmark = pytest.mark.browser

WCAG_22_AA = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
OUTSIDE = """() => [...document.querySelectorAll("body *")].filter(node => {
  const box = node.getBoundingClientRect();
  const drawn = node.closest("svg") && node.localName !== "svg";  // a drawing is cut at its edge
  const cut = node.parentElement.closest(".rail:not(.rail-slim) .topic");  // and so is a box drawn to time
  const shown = !drawn && !cut && !node.closest("thead");
  return box.width > 1 && box.height > 1 && box.right > innerWidth + 1 && shown;
}).map(node => node.outerHTML.slice(0, 90))"""


def check(page: Page, where: str) -> None:
    """Open the page and hold it to what every page owes."""
    answer = page.goto(where)
    assert answer is not None
    assert answer.status == 200, f"{where}: {answer.status}"
    assert page.locator("h1").count() == 1, f"{where} has not one h1"
    found = Axe().run(page, options=WCAG_22_AA)
    assert not found.response["violations"], f"{where}\n{found.generate_report()}"
    assert not page.evaluate(OUTSIDE), f"{where} is wider than its window"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), where


LOOKS = [(1280, False), (320, True)]


@pytest.mark.parametrize(("width", "dark"), LOOKS)
class TestPages:
    def look(self, desk: Desk, width: int, dark: bool, person: Person | None, *paths: str) -> None:
        page = desk.window(person, width=width, dark=dark)
        for path in paths:
            check(page, path)

    def test_before_and_after_the_order_is_issued(
        self,
        width: int,
        dark: bool,
        desk: Desk,
        meeting: Meeting,
        brought: Brought,
        manager: Person,
        report: Person,
        issue: Callable[[], None],
    ) -> None:
        page = reverse("meeting", args=[meeting.pk])
        seen = reverse("meeting-as-they-see-it", args=[meeting.pk])
        self.look(desk, width, dark, manager, page, seen)
        issue()
        moving = reverse("placement-move", args=[placement_of(brought.licence).pk])
        self.look(desk, width, dark, report, page, moving)

    def test_lines_and_what_can_be_done_to_them(
        self, width: int, dark: bool, desk: Desk, issued_meeting: Meeting, line: Line, manager: Person
    ) -> None:
        of_line = [
            "line",
            "line-interval",
            "line-pause",
            "line-end",
            "line-we-met",
            "line-extra",
            "topic-add",
        ]
        of_meeting = ["meeting-move", "meeting-call-off", "meeting-start"]
        self.look(
            desk,
            width,
            dark,
            manager,
            *(reverse(name) for name in ("next", "lines", "line-new", "cadence", "settings")),
            *(reverse(name) for name in ("contacts", "privacy", "notes-search")),
            *(reverse(name, args=[line.pk]) for name in of_line),
            *(reverse(name, args=[issued_meeting.pk]) for name in of_meeting),
        )

    def test_times_proposed_and_busy_times(
        self,
        width: int,
        dark: bool,
        desk: Desk,
        meeting: Meeting,
        peer_line: Line,
        manager: Person,
        report: Person,
        now: dt.datetime,
    ) -> None:
        """Times found beside a calendar, what falls on days away, and a proposal as both sides see it."""
        meetings.invite(meeting=meeting, actor=manager, words="", now=now)
        day = dt.date(2026, 12, 3)
        away = profile.add_days_away(actor=manager, first=day, last=day, now=now)
        time_proposals.propose(
            meeting=meeting, day=dt.date(2026, 12, 7), time=dt.time(10), actor=manager, now=now
        )
        begins = now + dt.timedelta(days=2)
        block = (begins, begins + dt.timedelta(hours=2))
        busy_times.replace(blocks=[block], actor=manager, now=now, today=now.date())
        places = (
            reverse("find-times"),
            reverse("absence", args=[away.pk]),
            reverse("meeting", args=[meeting.pk]),
        )
        self.look(desk, width, dark, manager, *places)
        self.look(desk, width, dark, report, reverse("next"), reverse("line", args=[meeting.line_id]))

    def test_a_meeting_under_way(
        self, width: int, dark: bool, desk: Desk, under_way_meeting: Meeting, report: Person
    ) -> None:
        pk = under_way_meeting.pk
        self.look(
            desk, width, dark, report, reverse("meeting-live", args=[pk]), reverse("meeting", args=[pk])
        )

    def test_a_closed_meeting(
        self,
        width: int,
        dark: bool,
        desk: Desk,
        closed_meeting: Meeting,
        next_meeting: Meeting,
        taken_on: TakenOn,
        report: Person,
    ) -> None:
        self.look(
            desk,
            width,
            dark,
            report,
            reverse("record", args=[closed_meeting.pk]),
            reverse("meeting", args=[next_meeting.pk]),
            reverse("next"),
            reverse("commitment-date", args=[taken_on.reports.pk]),
            reverse("commitment-hand-over", args=[taken_on.reports.pk]),
            reverse("commitment-cue", args=[taken_on.reports.pk]),
        )

    def test_the_account_of_a_topic_and_the_rule(
        self, width: int, dark: bool, desk: Desk, issued_meeting: Meeting, brought: Brought, report: Person
    ) -> None:
        """As pages, and opened in place in the agenda."""
        place = placement_of(brought.licence)
        self.look(
            desk,
            width,
            dark,
            report,
            reverse("placement-why", args=[place.pk]),
            reverse("how-order", args=[place.meeting_id]),
            reverse("placement", args=[place.pk]),
            reverse("meeting-opening", args=[place.meeting_id]),
        )
        page = desk.window(report, width=width, dark=dark)
        page.goto(reverse("meeting", args=[issued_meeting.pk]))
        box = page.locator(f"#topic-{brought.licence.pk}")
        box.get_by_role("link", name=brought.licence.title, exact=True).click()
        box.get_by_text("Why here?").wait_for()
        assert not Axe().run(page, options=WCAG_22_AA).response["violations"]
        assert not page.evaluate(OUTSIDE)

    def test_words_of_an_addition(
        self, width: int, dark: bool, desk: Desk, closed_meeting: Meeting, report: Person
    ) -> None:
        kept = closed_meeting.record_at + dt.timedelta(hours=1)
        added = record.add(meeting=closed_meeting, words="The slot is the 14th.", actor=report, now=kept)
        clock.hold_at(kept)
        self.look(desk, width, dark, report, reverse("record-addition-remove", args=[added.pk]))

    def test_the_administrators_pages(
        self, width: int, dark: bool, desk: Desk, line: Line, lead_line: Line, administrator: Person
    ) -> None:
        Organisation.objects.create(name="Alder Quay Ferries", created_at=clock.now())
        names = (
            "people",
            "people-line-new",
            "mails",
            "contacts",
            "contacts-edit",
            "next",
            "lines",
            "cadence",
        )
        self.look(desk, width, dark, administrator, *(reverse(name) for name in names))

    def test_a_lead_of_managers(
        self, width: int, dark: bool, desk: Desk, closed_meeting: Meeting, lead_line: Line, lead: Person
    ) -> None:
        self.look(desk, width, dark, lead, reverse("cadence"), reverse("cadence") + "?everyone")

    def test_signed_out(self, width: int, dark: bool, desk: Desk, db: None) -> None:
        names = ("account_login", "account_reset_password")
        self.look(desk, width, dark, None, *(reverse(name) for name in names))


@pytest.fixture
def issue(meeting: Meeting, manager: Person) -> Callable[[], None]:
    def act() -> None:
        issuing.issue(meeting=meeting, actor=manager, now=clock.now())

    return act
