"""Preparing: one page in the order of the work, left and taken up again, and nobody else is told."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Commitment, Line, LogbookEntry, Meeting, Notice
from oneonone.selectors.meetings import preparation_page
from oneonone.services.commitments import commitments
from oneonone.services.private import logbook
from tests.cast import ClientFor, assert_not_sees, assert_sees
from tests.scene import Brought

TODAY = dt.date(2026, 11, 25)


@pytest.fixture
def entry(report: Person, now: dt.datetime) -> LogbookEntry:
    return logbook.add(
        kind="obstacle",
        line="Printer at the east quay jams",
        event_on=TODAY,
        actor=report,
        now=now,
        today=TODAY,
    )


def path(meeting: Meeting) -> str:
    return reverse("meeting-prepare", args=[meeting.pk])


def test_everything_is_done_step_by_step_and_the_page_says_ready(
    client_for: ClientFor, issued_meeting: Meeting, entry: LogbookEntry, report: Person, brought: Brought
) -> None:
    client, meeting = client_for(report), issued_meeting
    assert_sees(client.get(path(meeting)), "Printer at the east quay jams")
    client.post(reverse("order-read", args=[meeting.pk]), {"number": 1, "next": path(meeting)})
    client.post(reverse("prepare-leave", args=[entry.pk]), {"meeting": meeting.pk})
    for step in ("unclear", "notes"):
        client.post(reverse("prepare-tick", args=[meeting.pk]), {"step": step})
    shown = client.get(path(meeting))
    assert_sees(shown, "You are ready.")
    assert_not_sees(shown, "Printer at the east quay jams")


def test_the_estimate_for_an_ordinary_agenda_is_five_to_ten_minutes(
    issued_meeting: Meeting, entry: LogbookEntry, report: Person, now: dt.datetime
) -> None:
    shown = preparation_page.page(report, issued_meeting, now=now)
    assert 5 <= shown.minutes <= 10
    assert shown.left == shown.minutes


@pytest.mark.parametrize(
    ("words", "minutes", "fastest", "slowest"),
    [(0, 1, 1, 1), (238, 1, 1, 2), (500, 3, 2, 3), (1190, 5, 4, 7)],
)
def test_reading_time_by_the_published_rate(words: int, minutes: int, fastest: int, slowest: int) -> None:
    """238 words a minute, most adults 175 to 300 (Brysbaert 2019), rounded up to whole minutes."""
    reading = preparation_page.Reading(words)
    assert (reading.minutes, reading.fastest, reading.slowest) == (minutes, fastest, slowest)


@pytest.mark.parametrize(
    ("how", "state", "forecast"), [("done", "done", "will_make"), ("may_slip", "open", "may_slip")]
)
def test_a_commitment_is_spoken_of_in_one_press_and_stays_on_the_page(
    client_for: ClientFor,
    meeting: Meeting,
    line: Line,
    report: Person,
    now: dt.datetime,
    how: str,
    state: str,
    forecast: str,
) -> None:
    made = commitments.take_on(
        line=line,
        owner_side="report",
        action="Send Maja the roster",
        how_known="",
        date=dt.date(2026, 12, 1),
        actor=report,
        now=now,
    )
    client = client_for(report)
    assert client.post(reverse("prepare-commitment", args=[made.pk]), {"how": how}).status_code == 302
    kept = Commitment.objects.get()
    assert (kept.state, kept.forecast) == (state, forecast)
    shown = preparation_page.page(report, meeting, now=now)
    assert shown.commitments_left == 0
    assert_sees(client.get(path(meeting)), "Send Maja the roster")


def test_the_other_side_is_told_nothing(
    client_for: ClientFor, meeting: Meeting, entry: LogbookEntry, report: Person, manager: Person
) -> None:
    before = Notice.objects.count()
    client_for(report).post(reverse("prepare-leave", args=[entry.pk]), {"meeting": meeting.pk})
    client_for(report).post(reverse("prepare-tick", args=[meeting.pk]), {"step": "notes"})
    assert Notice.objects.count() == before
    assert_not_sees(client_for(manager).get(path(meeting)), "Printer")
    answer = client_for(manager).post(reverse("prepare-leave", args=[entry.pk]), {"meeting": meeting.pk})
    assert answer.status_code == 404
