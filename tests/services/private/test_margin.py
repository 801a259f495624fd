"""Margins: kept for their writer alone, marked, and never overwritten unseen."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, MarginNote, Meeting
from oneonone.sealed import CannotOpen
from oneonone.services.private import keys, margin
from oneonone.services.refusals import NotNow, OutOfRange, Stale, TooLong
from tests.cast import spoilt
from tests.scene import make_topic

WORDS = "Ask who pays for the crane before naming a week."


@pytest.fixture
def note(meeting: Meeting, manager: Person, now: dt.datetime) -> MarginNote:
    """What Ines has written beside the meeting of 3 December."""
    made = write(manager, now, meeting=meeting)
    assert made is not None
    return made


def write(
    actor: Person, now: dt.datetime, words: str = WORDS, *, revision: int = 0, **where: object
) -> MarginNote | None:
    unclear = bool(where.pop("unclear", False))
    return margin.write(
        words=words,
        unclear=unclear,
        revision=revision,
        actor=actor,
        now=now,
        today=now.date(),
        **where,  # type: ignore[arg-type]
    )


def read(person: Person, note: MarginNote) -> dict[str, object]:
    return dict(keys.open_for(person, note))


def stored(person: Person) -> MarginNote:
    found: MarginNote = MarginNote.objects.of(person).get()
    return found


def test_a_note_opens_for_its_writer_and_for_nobody_else(
    note: MarginNote, manager: Person, report: Person, administrator: Person
) -> None:
    assert read(manager, stored(manager)) == {"words": WORDS, "unclear": False}
    for person in (report, administrator):
        with pytest.raises(CannotOpen):
            read(person, stored(manager))


def test_no_word_of_a_note_is_in_the_row(note: MarginNote, manager: Person) -> None:
    assert b"crane" not in bytes(stored(manager).blob)


def test_each_side_has_a_margin_of_its_own_at_the_same_meeting(
    note: MarginNote, meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    write(report, now, "I would rather wait until spring.", meeting=meeting)
    assert read(report, stored(report))["words"] == "I would rather wait until spring."


def test_a_changed_note_opens_and_the_old_blob_put_back_does_not(
    note: MarginNote, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    old = bytes(stored(manager).blob)
    write(manager, now, "Shorter.", revision=1, meeting=meeting)
    row = stored(manager)
    assert (row.revision, read(manager, row)["words"]) == (2, "Shorter.")
    row.blob = old
    with pytest.raises(CannotOpen):
        read(manager, row)


def test_a_note_changed_in_another_window_is_not_overwritten_and_its_words_are_shown(
    note: MarginNote, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    write(manager, now, "From the other window.", revision=1, meeting=meeting)
    with pytest.raises(Stale) as refusal:
        write(manager, now, "From this one.", revision=1, meeting=meeting)
    assert refusal.value.theirs == {"words": "From the other window."}
    assert refusal.value.version == 2


def test_a_second_first_note_is_stale(
    note: MarginNote, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    with pytest.raises(Stale):
        write(manager, now, "Typed in a page from before.", meeting=meeting)


def test_a_note_without_words_and_mark_is_deleted(
    note: MarginNote, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    assert write(manager, now, "  ", revision=1, meeting=meeting) is None
    assert not MarginNote.objects.of(manager).exists()


def test_a_mark_keeps_the_words_beside_it(line: Line, manager: Person, now: dt.datetime) -> None:
    topic = make_topic(line, manager)
    write(manager, now, topic=topic)
    margin.mark(topic=topic, unclear=True, actor=manager, now=now, today=now.date())
    assert read(manager, stored(manager)) == {"words": WORDS, "unclear": True}
    margin.mark(topic=topic, unclear=False, actor=manager, now=now, today=now.date())
    assert read(manager, stored(manager)) == {"words": WORDS, "unclear": False}


def test_a_mark_alone_is_a_note_and_taken_away_it_leaves_none(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    topic = make_topic(line, manager)
    margin.mark(topic=topic, unclear=True, actor=report, now=now, today=now.date())
    assert read(report, stored(report)) == {"words": "", "unclear": True}
    margin.mark(topic=topic, unclear=False, actor=report, now=now, today=now.date())
    assert not MarginNote.objects.of(report).exists()


def test_a_note_that_cannot_be_opened_is_not_written_over(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    topic = make_topic(line, manager)
    write(manager, now, topic=topic)
    row = stored(manager)
    MarginNote.objects.of(manager).update(blob=spoilt(row.blob))
    with pytest.raises(NotNow):
        margin.mark(topic=topic, unclear=True, actor=manager, now=now, today=now.date())
    for revision in (0, row.revision):
        with pytest.raises(NotNow):
            write(manager, now, "New.", revision=revision, topic=topic)
    assert bytes(stored(manager).blob) == spoilt(row.blob)


def test_a_note_over_the_limit_is_refused(meeting: Meeting, manager: Person, now: dt.datetime) -> None:
    with pytest.raises(TooLong) as refusal:
        write(manager, now, "x" * 4001, meeting=meeting)
    assert refusal.value.field == "words"


def test_a_note_is_at_one_thing(line: Line, meeting: Meeting, manager: Person, now: dt.datetime) -> None:
    with pytest.raises(OutOfRange):
        write(manager, now)
    with pytest.raises(OutOfRange):
        write(manager, now, meeting=meeting, topic=make_topic(line, manager))
