"""Processes that are killed, and several at once: nothing owed is lost, and nothing arrives twice."""

from __future__ import annotations

import signal
import sqlite3
import time
from pathlib import Path

import pytest

from tests.engines import throwaway
from tests.faults.conftest import SECONDS, Place

KILLED = -signal.SIGKILL
LATER = "11"  # minutes after which a claim belongs to a process that is gone
MAILS = 5


@pytest.mark.parametrize("point", ["claimed", "first byte"])
def test_killed_before_the_first_byte_every_mail_arrives_once(place: Place, point: str) -> None:
    place.do("owe", str(MAILS))
    place.do("run", "0", point, code=KILLED)
    assert place.found()["mails"] == {"claimed": 1, "queued": MAILS - 1}
    place.do("run", "0")
    assert place.found()["mails"] == {"claimed": 1, "sent": MAILS - 1}
    place.do("run", LATER)
    assert place.found()["mails"] == {"sent": MAILS}
    assert sorted(place.copies.values()) == [1] * MAILS


def test_killed_between_the_text_and_the_note_the_mail_is_unknown_and_not_sent_again(place: Place) -> None:
    place.do("owe", str(MAILS))
    place.do("run", "0", "taken", code=KILLED)
    place.do("run", LATER)
    assert place.found()["mails"] == {"unknown": 1, "sent": MAILS - 1}
    assert max(place.copies.values()) == 1
    assert len(place.copies) == MAILS


def test_four_runs_at_once_send_each_mail_once_and_make_one_coming_meeting(place: Place) -> None:
    place.do("owe", "40")
    runs = [place.start("run", "0") for _number in range(4)]
    for one in runs:
        _out, err = one.communicate(timeout=SECONDS)
        assert one.returncode == 0, err[-3000:]
    found = place.found()
    assert found["mails"] == {"sent": 40}
    assert set(place.copies.values()) == {1}
    assert (found["coming"], found["set aside"]) == (1, [])


def test_a_mail_server_that_refuses_and_hangs_up_costs_no_mail_and_no_copy(place: Place) -> None:
    """Refused for now, refused for good, cut before the text, cut after its last dot."""
    place.server.rcpt += ["451 later", "550 no such mailbox"]
    place.do("owe", "2")
    place.do("run", "0")
    assert place.found()["mails"] == {"queued": 1, "failed": 1}
    place.do("run", LATER)
    assert place.found()["mails"] == {"sent": 1, "failed": 1}
    place.server.mail.append("cut")
    place.server.data.append("cut")
    place.do("owe", "2")
    place.do("run", "0")
    place.do("run", LATER)
    found = place.found()["mails"]
    assert (found["unknown"], found["sent"] + found["unknown"]) == (1, 3)
    assert sorted(place.copies.values()) == [1, 1, 1]


@pytest.mark.parametrize("place", [pytest.param("postgresql", marks=pytest.mark.services)], indirect=True)
def test_a_database_restarted_in_the_middle_of_a_run_loses_nothing(place: Place) -> None:
    assert place.folder is not None
    place.do("owe", "60")
    running = [place.start("run", "0") for _number in range(2)]
    until = time.monotonic() + SECONDS
    while (
        len(place.server.got) < 5 and any(one.poll() is None for one in running) and time.monotonic() < until
    ):
        time.sleep(0.02)
    throwaway.restart_postgresql(place.folder)
    for one in running:
        one.communicate(timeout=SECONDS)
    for _time in range(2):
        place.do("run", LATER)
    found = place.found()
    assert sum(found["mails"].values()) == 60
    assert set(found["mails"]) <= {"sent", "unknown"}
    # One for each process that was between the first byte and the note.
    assert found["mails"].get("unknown", 0) <= 2
    assert max(place.copies.values()) == 1
    assert len(place.copies) >= found["mails"]["sent"]


def test_twenty_writers_killed_leave_whole_what_they_were_told_was_kept(place: Place) -> None:
    writers = [place.start("write", str(number)) for number in range(20)]
    until = time.monotonic() + SECONDS
    kept: list[str] = []
    for one in writers:
        assert one.stdout is not None
        kept.append(one.stdout.readline().strip())
        assert time.monotonic() < until
    for one in writers:
        one.kill()
    for one in writers:
        out, _err = one.communicate(timeout=SECONDS)
        kept += out.split("\n")[:-1]
    titles = place.found()["titles"]
    assert set(filter(None, kept)) <= set(titles)
    assert len(set(titles)) == len(titles)
    if place.folder is None:
        with sqlite3.connect(Path(place.environment["ONEONONE_DATA"]) / "db.sqlite3") as database:
            assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
            assert database.execute("PRAGMA foreign_key_check").fetchall() == []
