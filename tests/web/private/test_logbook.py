"""The logbook's pages: captured, read back, changed, brought, exported, refused."""

from __future__ import annotations

import datetime as dt
import json
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line, LogbookEntry, Meeting, Topic
from oneonone.selectors.private import logbook as selector
from oneonone.services.private import logbook
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries

TODAY = dt.date(2026, 11, 25)
LINE = "Ticket-gate pilot: queues down by a third"


def made(person: Person, now: dt.datetime, line: str = LINE, **more: object) -> LogbookEntry:
    facts: dict[str, object] = {"kind": "achievement", "event_on": dt.date(2026, 11, 18)} | more
    return logbook.add(line=line, actor=person, now=now, today=TODAY, **facts)  # type: ignore[arg-type]


def sent(**more: str) -> dict[str, str]:
    return {"line": LINE, "kind": "achievement", "event_on": "today", "client_key": str(uuid4())} | more


def test_a_line_is_saved_from_any_page_and_leads_back_to_it(
    client_for: ClientFor, report: Person, line: Line
) -> None:
    client, page = client_for(report), reverse("line", args=[line.pk])
    answer = client.post(reverse("logbook-add"), sent(next=page))
    assert (answer.status_code, answer["Location"]) == (302, page)
    assert_sees(client.get(reverse("logbook")), LINE)


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("", dt.date(2026, 11, 25)),
        ("Yesterday", dt.date(2026, 11, 24)),
        ("last Tuesday", dt.date(2026, 11, 24)),
        ("wednesday", dt.date(2026, 11, 18)),
        ("12 Nov", dt.date(2026, 11, 12)),
        ("November 12", dt.date(2026, 11, 12)),
        ("1 December", dt.date(2025, 12, 1)),
        ("29 Feb", dt.date(2024, 2, 29)),
        ("3 March 2026", dt.date(2026, 3, 3)),
        ("2026-11-02", dt.date(2026, 11, 2)),
    ],
)
def test_the_day_of_the_event_is_understood_in_words(
    client_for: ClientFor, report: Person, words: str, day: dt.date
) -> None:
    client_for(report).post(reverse("logbook-add"), sent(event_on=words))
    (kept,) = selector.entries(report)
    assert kept.event_on == day


@pytest.mark.parametrize("words", ["soon", "31 Feb", "2026-11-26", "26 November 2026", "0 May", "12 Nov Dec"])
def test_a_day_that_is_none_or_still_to_come_is_refused_with_what_was_typed(
    client_for: ClientFor, report: Person, words: str
) -> None:
    answer = client_for(report).post(reverse("logbook-add"), sent(event_on=words))
    assert answer.status_code == 422
    assert words in body_of(answer)
    assert not LogbookEntry.objects.of(report).exists()


def test_nobody_else_sees_an_entry(
    client_for: ClientFor, report: Person, manager: Person, line: Line, now: dt.datetime
) -> None:
    entry = made(report, now)
    for name in ("logbook-entry", "logbook-bring", "logbook-remove"):
        answer = client_for(manager).get(reverse(name, args=[entry.pk]))
        assert answer.status_code == 404
        assert_not_sees(answer, LINE)


def test_what_is_brought_is_shown_first_and_the_rest_stays(
    client_for: ClientFor,
    report: Person,
    manager: Person,
    meeting: Meeting,
    now: dt.datetime,
) -> None:
    entry = made(report, now, details={"learned": "Sign the lane before the corner."})
    client, page = client_for(report), reverse("logbook-bring", args=[entry.pk])
    assert_sees(client.get(page), "Ines Okafor will see exactly this:")
    form = client.get(page).context["form"]
    data = {"title": "Queues down by a third", "line": form.initial["line"], "client_key": str(uuid4())}
    assert client.post(page, data).status_code == 302
    agenda = client_for(manager).get(reverse("meeting", args=[meeting.pk]))
    assert_sees(agenda, "Queues down by a third")
    assert_not_sees(agenda, "Sign the lane")


def test_it_can_be_taken_back(
    client_for: ClientFor, report: Person, meeting: Meeting, now: dt.datetime
) -> None:
    entry, client = made(report, now), client_for(report)
    page = reverse("logbook-bring", args=[entry.pk])
    form = client.get(page).context["form"]
    client.post(page, {"title": LINE, "line": form.initial["line"], "client_key": str(uuid4())})
    client.post(reverse("logbook-take-back", args=[entry.pk]))
    assert Topic.objects.get().state == Topic.State.WITHDRAWN
    assert_sees(client.get(reverse("logbook")), "Bring")


def test_a_search_finds_by_words_kind_and_month(
    client_for: ClientFor, report: Person, now: dt.datetime
) -> None:
    made(report, now)
    made(report, now, "Printer at the east quay jams", kind="obstacle", event_on=dt.date(2026, 10, 29))
    client = client_for(report)
    assert_not_sees(client.post(reverse("logbook"), {"words": "PRINTER"}), LINE)
    assert_sees(client.post(reverse("logbook"), {"kind": "obstacle"}), "Printer at the east quay jams")
    assert_not_sees(client.post(reverse("logbook"), {"month": "2026-11"}), "Printer at the east quay")


def test_an_edit_keeps_what_was_typed_when_it_is_refused(
    client_for: ClientFor, report: Person, now: dt.datetime
) -> None:
    entry = made(report, now)
    page = reverse("logbook-entry", args=[entry.pk])
    answer = client_for(report).post(
        page, sent(revision="1", evidence="the green folder", worth="40 people an hour")
    )
    assert answer.status_code == 422
    assert "the green folder" in body_of(answer)
    assert "40 people an hour" in body_of(answer)


def test_an_edit_on_an_older_revision_shows_both_lines(
    client_for: ClientFor, report: Person, now: dt.datetime
) -> None:
    entry, client = made(report, now), client_for(report)
    page = reverse("logbook-entry", args=[entry.pk])
    assert client.post(page, sent(revision="1", line="First window")).status_code == 302
    answer = client.post(page, sent(revision="1", line="Second window"))
    assert answer.status_code == 412
    assert "First window" in body_of(answer)
    assert "Second window" in body_of(answer)


def test_the_three_exports_hold_every_entry_and_say_nothing_in_their_name(
    client_for: ClientFor, report: Person, now: dt.datetime
) -> None:
    made(report, now, details={"worth": "=1+1"})
    client = client_for(report)
    for extension in ("md", "csv", "json"):
        answer = client.get(reverse(f"logbook-export-{extension}"))
        assert answer["Content-Disposition"] == f'attachment; filename="export.{extension}"'
        assert "no-store" in answer["Cache-Control"]
        assert LINE in body_of(answer)
    assert json.loads(body_of(answer))[0]["details"] == {"worth": "=1+1"}
    assert ",'=1+1," in body_of(client.get(reverse("logbook-export-csv")))


def test_the_page_costs_the_same_queries_for_a_year_of_entries(
    client_for: ClientFor, report: Person, line: Line, now: dt.datetime
) -> None:
    client = client_for(report)

    def cost() -> int:
        with queries() as made_queries:
            assert client.get(reverse("logbook")).status_code == 200
        return len(made_queries)

    for day in range(1, 3):
        made(report, now, f"Entry {day}", event_on=dt.date(2026, 11, day))
    cost()  # The session is written once.
    few = cost()
    for day in range(3, 25):
        made(report, now, f"Entry {day}", event_on=dt.date(2026, 11, day))
    assert cost() == few


def test_most_achievements_of_late_is_said(client_for: ClientFor, report: Person, now: dt.datetime) -> None:
    for month in (3, 10, 11, 11):
        made(report, now, f"Month {month}", event_on=dt.date(2026, month, 5))
    assert_sees(client_for(report).get(reverse("logbook")), "3 of them since September")
    assert_sees(client_for(report).get(reverse("logbook-achievements")), "Month 3")
