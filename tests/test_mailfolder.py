"""The demo's mail lies in a folder: whole letters, newest first, read as they were sent."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from threading import Barrier

import pytest
from django.core.mail import EmailMultiAlternatives, get_connection
from pytest_django import Settings

from oneonone import mailfolder


@pytest.fixture
def folder(settings: Settings, tmp_path: Path) -> Path:
    settings.MAIL_FOLDER = tmp_path / "deep" / "mail"
    return tmp_path / "deep" / "mail"


def letter(subject: str, text: str, date: str) -> EmailMultiAlternatives:
    message = EmailMultiAlternatives(
        subject, text, "One-on-ones <oneonone@quay.example>", ["Mara <mara@quay.example>"]
    )
    message.extra_headers["Date"] = date
    message.attach_alternative(f"<p>{text}</p>", "text/html")
    message.connection = get_connection("oneonone.mailfolder.EmailBackend")
    return message


@pytest.mark.usefixtures("folder")
def test_letters_are_read_as_they_were_sent_newest_first(folder: Path) -> None:
    letter("Tomorrow: your one-on-one", "At 10:00.", "Mon, 02 Mar 2026 08:00:00 +0000").send()
    letter("Añadir temas – bitte", "Ein Gruß.\nZweite Zeile.", "Mon, 02 Mar 2026 10:00:00 +0100").send()
    found = mailfolder.letters(folder)
    assert [one.subject for one in found] == ["Añadir temas – bitte", "Tomorrow: your one-on-one"]
    assert found[0].text.strip() == "Ein Gruß.\nZweite Zeile."
    assert found[0].to == "Mara <mara@quay.example>"
    assert found[0].sender == "One-on-ones <oneonone@quay.example>"
    assert found[0].sent_at == datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


def test_a_folder_that_is_not_there_yet_has_no_letters(folder: Path) -> None:
    assert mailfolder.letters(folder) == []
    assert not folder.exists()


def test_a_letter_without_a_date_sorts_last(folder: Path) -> None:
    letter("Dated", "x", "Mon, 02 Mar 2026 08:00:00 +0000").send()
    letter("Undated", "x", "some day").send()
    assert [one.subject for one in mailfolder.letters(folder)] == ["Dated", "Undated"]


def test_a_folder_that_another_process_is_still_making_takes_letters(folder: Path) -> None:
    folder.mkdir(parents=True)
    letter("Tomorrow: your one-on-one", "At 10:00.", "Mon, 02 Mar 2026 08:00:00 +0000").send()
    assert [one.subject for one in mailfolder.letters(folder)] == ["Tomorrow: your one-on-one"]


def test_senders_that_all_make_the_folder_at_once_each_leave_their_letter(
    settings: Settings, tmp_path: Path
) -> None:
    for attempt in range(20):
        settings.MAIL_FOLDER = tmp_path / str(attempt) / "mail"
        together = Barrier(4)

        def send(number: int, together: Barrier = together) -> None:
            message = letter(f"Letter {number}", "At 10:00.", "Mon, 02 Mar 2026 08:00:00 +0000")
            together.wait()
            message.send()

        with ThreadPoolExecutor(4) as senders:
            list(senders.map(send, range(4)))
        assert {one.subject for one in mailfolder.letters(settings.MAIL_FOLDER)} == {
            f"Letter {number}" for number in range(4)
        }
