"""Dropping a calendar: its busy times are kept, and no word of it is anywhere afterwards."""

from __future__ import annotations

import datetime as dt
import logging
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse

from accounts.models import Person
from oneonone.models import Line
from oneonone.selectors.private import busy_times
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import coming_of

UTC = dt.UTC
TITLE = "Knotgrass interview at Skerry"
NAME = "knotgrass.ics"


def a_file(*events: str, name: str = NAME) -> SimpleUploadedFile:
    words = (
        f"SUMMARY:{TITLE}\nDESCRIPTION:{TITLE} again\nLOCATION:{TITLE}\n"
        f"ORGANIZER;CN={TITLE}:mailto:knotgrass@example.org\nX-ODD:{TITLE}\n"
    )
    body = "".join(
        f"BEGIN:VEVENT\nUID:{TITLE}-{n}\n{event}\n{words}END:VEVENT\n" for n, event in enumerate(events)
    )
    text = f"BEGIN:VCALENDAR\nVERSION:2.0\nX-WR-CALNAME:{TITLE}\n{body}END:VCALENDAR\n"
    return SimpleUploadedFile(name, text.replace("\n", "\r\n").encode(), content_type="text/calendar")


MORNING = "DTSTART:20261203T093000Z\nDTEND:20261203T120000Z"


def drop(client: Client, file: SimpleUploadedFile | None, *, follow: bool = True) -> HttpResponseBase:
    sent = {} if file is None else {"calendar": file}
    return client.post(reverse("busy-times-read"), sent, follow=follow)


def test_the_busy_times_are_kept_and_the_times_found_keep_clear_of_them(
    line: Line, manager: Person, client_for: ClientFor
) -> None:
    page = drop(client_for(manager), a_file(MORNING))
    assert_sees(page, "1 busy time is saved, up to 21 February 2027. Only its start and end are kept.")
    assert_sees(page, "Read on 25 November, up to 21 February 2027: 1 busy time ahead.")
    assert_sees(page, "The agreed day; at the agreed time you are busy in your calendar.")


def test_no_word_of_the_file_is_anywhere_afterwards(
    line: Line, manager: Person, client_for: ClientFor, caplog: pytest.LogCaptureFixture
) -> None:
    """Not on a page, in a table, or in a log with all its statements."""
    client = client_for(manager)
    connection.force_debug_cursor = True
    try:
        with caplog.at_level(logging.DEBUG), caplog.at_level(logging.DEBUG, "django.db.backends"):
            pages = [
                drop(client, a_file(MORNING)),
                drop(client, a_file("DTSTART:20261203T093000Z\nRRULE:FREQ=SECONDLY")),
                drop(client, a_file("DTSTART;TZID=Knotgrass:20261203T093000")),
                client.get(reverse("find-times")),
            ]
    finally:
        connection.force_debug_cursor = False
    rows = []
    with connection.cursor() as cursor:
        for model in apps.get_models(include_auto_created=True):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(model._meta.db_table)}")
            rows += [repr([bytes(v) if isinstance(v, memoryview) else v for v in row]) for row in cursor]
    logged = "\n".join(f"{record.getMessage()} {vars(record)!r}" for record in caplog.records)
    everything = "\n".join([*(body_of(page) for page in pages), *rows, logged])
    assert "INSERT INTO" in logged
    assert "knotgrass" not in everything.casefold()


def test_another_side_sees_neither_them_nor_that_there_are_any(
    line: Line, manager: Person, report: Person, client_for: ClientFor
) -> None:
    drop(client_for(manager), a_file(MORNING))
    theirs = client_for(report)
    assert_not_sees(theirs.get(reverse("find-times")), "busy time ahead")
    for name, pk in (("line", line.pk), ("meeting", coming_of(line).pk)):
        assert_not_sees(theirs.get(reverse(name, args=[pk])), "busy")


@pytest.mark.parametrize(
    ("file", "said"),
    [
        (None, "Choose the .ics file of your calendar."),
        (SimpleUploadedFile("a.ics", b""), "That file is not a calendar. An iCalendar file"),
        (SimpleUploadedFile("a.ics", b"\x89PNG\r\n\x1a\n" + bytes(99)), "That file is not a calendar."),
        (SimpleUploadedFile("a.ics", b"BEGIN:VCALENDAR\r\n" * 200_000), "That calendar file is too large."),
        (
            a_file("DTSTART:soon"),
            "An entry of that calendar file has a time or a repetition that cannot be read.",
        ),
        (a_file("DTSTART;TZID=Mars/Base:20261203T093000"), "has an unknown time zone."),
        (a_file("DTSTART:20261203T093000Z\nRRULE:FREQ=MINUTELY"), "repeat too often."),
    ],
)
def test_a_refused_file_says_why_and_leaves_what_was_kept(
    file: SimpleUploadedFile | None, said: str, manager: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    client = client_for(manager)
    drop(client, a_file(MORNING))
    page = drop(client, file)
    assert page.status_code == 422
    assert said in body_of(page)
    assert len(busy_times.of(manager, now=now)) == 1


def test_a_file_of_any_size_takes_two_megabytes_of_memory_and_nothing_on_the_disk(
    manager: Person, client_for: ClientFor, tmp_path: Path, settings: Any
) -> None:
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    page = drop(client_for(manager), SimpleUploadedFile("a.ics", b"BEGIN:VCALENDAR\r\n" + b"A" * 9_000_000))
    assert "That calendar file is too large." in body_of(page)
    assert list(tmp_path.iterdir()) == []


def test_six_files_a_minute_are_read_and_the_seventh_is_refused_at_its_field(
    manager: Person, report: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    client = client_for(manager)
    for _ in range(6):
        assert drop(client, a_file(MORNING)).status_code == 200
    page = drop(client, a_file("DTSTART:20261204T093000Z\nDURATION:PT1H"))
    assert page.status_code == 422
    assert "You have sent many calendar files in a short time. Six in a minute" in body_of(page)
    assert busy_times.of(manager, now=now)[0][0].day == 3
    assert drop(client_for(report), a_file(MORNING)).status_code == 200


def test_removing_them_leaves_none(manager: Person, now: dt.datetime, client_for: ClientFor) -> None:
    client = client_for(manager)
    drop(client, a_file(MORNING))
    page = client.post(reverse("busy-times-remove"), follow=True)
    assert_sees(page, "Your busy times are removed.")
    assert busy_times.of(manager, now=now) == ()
    assert client.get(reverse("busy-times-remove")).status_code == 405


def test_whole_days_and_floating_times_are_on_the_readers_own_clocks(
    manager: Person, now: dt.datetime, client_for: ClientFor
) -> None:
    Person.objects.filter(pk=manager.pk).update(zone="America/New_York")
    drop(client_for(manager), a_file("DTSTART:20261203T090000\nDURATION:PT1H", "DTSTART;VALUE=DATE:20261208"))
    assert busy_times.of(manager, now=now) == (
        (dt.datetime(2026, 12, 3, 14, tzinfo=UTC), dt.datetime(2026, 12, 3, 15, tzinfo=UTC)),
        (dt.datetime(2026, 12, 8, 5, tzinfo=UTC), dt.datetime(2026, 12, 9, 5, tzinfo=UTC)),
    )


def test_ten_times_the_entries_take_as_many_queries(manager: Person, client_for: ClientFor) -> None:
    client, counts = client_for(manager), []
    for number in (10, 100):
        events = [
            f"DTSTART:202612{1 + n % 20:02}T{n // 20 + 6:02}0000Z\nDURATION:PT20M" for n in range(number)
        ]
        drop(client, a_file(*events))
        client.get(reverse("find-times"))
        with queries() as made:
            client.get(reverse("find-times"))
        counts.append(len(made))
    assert counts[0] == counts[1]
