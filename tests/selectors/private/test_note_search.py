"""Searching one's own notes: any spelling, one's own key alone, a bounded number of notes."""

from __future__ import annotations

import datetime as dt
import logging
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from accounts.models import Person
from oneonone.models import LogbookEntry, MarginNote, Meeting
from oneonone.selectors.private import note_search
from oneonone.services.agenda import issuing, topics
from oneonone.services.lines import lines
from oneonone.services.private import keys, margin
from tests.cast import queries
from tests.scene import Brought, make_topic


def note(author: Person, words: str, now: dt.datetime, **at: object) -> MarginNote:
    """A note of somebody's at a topic or a meeting."""
    made = margin.write(
        words=words,
        unclear=False,
        revision=0,
        actor=author,
        now=now,
        today=now.date(),
        **at,  # type: ignore[arg-type]
    )
    assert made is not None
    return made


def found(reader: Person, *words: str) -> list[str]:
    return [one.words for one in note_search.search(reader, words).found]


@pytest.mark.parametrize(
    ("written", "asked"),
    [
        ("Ask about the TIDE", "tide"),
        ("Zoë’s café", "zoe cafe"),
        ("Zoe\u0308 again", "zoë"),
        ("Straße am Kai", "STRASSE"),
        ("ﬁnal ﬂood", "final flood"),
        ("Ｗｉｄｅ", "wide"),
        ("ΟΔΟΣ", "οδος"),
        ("Dvořák, Łódź", "dvorak lodz".replace("lodz", "łodz")),
        ("İzmir", "izmir"),
        ("first then second", "second first"),
        ("half of shipwright", "wrig"),
    ],
)
def test_a_word_is_found_in_any_spelling(
    report: Person, brought: Brought, now: dt.datetime, written: str, asked: str
) -> None:
    note(report, written, now, topic=brought.crane)
    assert found(report, *asked.split()) == [written]


def test_every_word_has_to_be_there(report: Person, brought: Brought, now: dt.datetime) -> None:
    note(report, "the tide table", now, topic=brought.crane)
    assert found(report, "tide", "rope") == []
    assert found(report) == found(report, "\u0301") == []


@given(st.text(max_size=60))
def test_folding_letter_by_letter_is_folding_the_text(text: str) -> None:
    marks = {c for c in text if unicodedata.combining(c) and unicodedata.category(c) != "Mn"}
    if not marks:
        assert "".join(note_search.fold(letter) for letter in text) == note_search.fold(text)


@given(st.text(min_size=1, max_size=200), st.data())
def test_a_snippet_holds_the_place_as_it_was_written(text: str, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(text) - 1))
    word = note_search.fold(text[start : start + data.draw(st.integers(1, 8))])
    if word and word in note_search.fold(text):
        snippet = note_search._snippet(text, word)
        assert snippet.hit in text
        assert word in note_search.fold(snippet.hit)
        assert snippet.before.removeprefix("… ") in text
        assert snippet.after.removesuffix(" …") in text


def test_a_long_note_is_cut_between_words(report: Person, brought: Brought, now: dt.datetime) -> None:
    note(report, f"{'before ' * 40}ANCHOR {'after ' * 40}", now, topic=brought.crane)
    snippet = note_search.search(report, ["anchor"]).found[0].snippet
    assert snippet.hit == "ANCHOR"
    assert snippet.before.startswith("… before ")
    assert snippet.after.endswith(" after …")
    assert len(snippet.before) <= note_search.AROUND + 2


def test_a_snippet_is_what_is_read_where_the_word_stands_in_that(
    report: Person, brought: Brought, now: dt.datetime
) -> None:
    note(report, "*Halyard* [chart](https://example.org/depths)", now, topic=brought.crane)

    def read(words: str) -> str:
        return "Halyard chart"

    one = note_search.search(report, ["halyard"], plain=read).found[0].snippet
    assert (one.before, one.hit, one.after) == ("", "Halyard", " chart")
    two = note_search.search(report, ["depths"], plain=read).found[0].snippet
    assert two.hit == "depths"
    assert two.before.endswith("(https://example.org/")


def test_nobody_finds_what_the_other_side_wrote(
    manager: Person, report: Person, brought: Brought, now: dt.datetime
) -> None:
    note(manager, "Their halyard", now, topic=brought.crane)
    assert found(report, "halyard") == []
    with queries() as made:
        note_search.search(report, ["halyard"])
    keys_read = [q["sql"] for q in made.captured_queries if "oneonone_personkey" in q["sql"]]
    assert keys_read == []


def test_only_ones_own_keys_are_read(
    manager: Person, report: Person, brought: Brought, now: dt.datetime
) -> None:
    note(manager, "Their halyard", now, topic=brought.crane)
    note(report, "My halyard", now, topic=brought.crane)
    with queries() as made:
        assert found(report, "halyard") == ["My halyard"]
    asked = [q["sql"] for q in made.captured_queries]
    private = [sql for sql in asked if "personkey" in sql or 'FROM "oneonone_marginnote"' in sql]
    assert private
    for sql in private:
        assert report.pk.hex in sql.replace("-", "")
        assert manager.pk.hex not in sql.replace("-", "")


def test_a_note_that_cannot_be_opened_is_counted_and_the_rest_is_found(
    report: Person, brought: Brought, now: dt.datetime
) -> None:
    broken = note(report, "A broken halyard", now, topic=brought.crane)
    note(report, "A whole halyard", now, topic=brought.sheet)
    MarginNote.objects.of(report).filter(pk=broken.pk).update(blob=b"\x01tampered")
    search = note_search.search(report, ["halyard"])
    assert [one.words for one in search.found] == ["A whole halyard"]
    assert (search.read, search.unopened) == (2, 1)


def test_the_logbook_is_searched_as_well(report: Person, now: dt.datetime) -> None:
    entry = LogbookEntry(owner=report, created_on=now.date(), changed_on=now.date())
    keys.seal_for(author=report, row=entry, payload={"words": "Spliced the halyard"}, now=now)
    entry.save(force_insert=True)
    (one,) = note_search.search(report, ["halyard"]).found
    assert (one.kind, one.words, one.meeting_id) == ("logbook", "Spliced the halyard", None)


def test_the_newest_are_searched_and_it_is_said_when_older_ones_are_left(
    report: Person, brought: Brought, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(note_search, "MOST_READ", 2)
    monkeypatch.setattr(note_search, "AT_ONCE", 1)
    days = [now - dt.timedelta(days=days) for days in (3, 2, 1)]
    for at, topic in zip(days, (brought.crane, brought.sheet, brought.licence), strict=True):
        note(report, f"halyard {at.day}", at, topic=topic)
    search = note_search.search(report, ["halyard"])
    assert [one.words for one in search.found] == ["halyard 24", "halyard 23"]
    assert (search.read, search.older) == (2, True)
    assert not note_search.search(report, ["rope"]).found


def test_a_search_that_finds_much_stops_and_says_so(
    report: Person, brought: Brought, now: dt.datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(note_search, "MOST_SHOWN", 2)
    for topic in (brought.crane, brought.sheet, brought.licence, brought.deckhands):
        note(report, "halyard", now, topic=topic)
    search = note_search.search(report, ["halyard"])
    assert (len(search.found), search.cut, search.read) == (2, True, 3)


def test_where_a_note_stands_is_told(
    report: Person, meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    note(report, "halyard one", now, topic=brought.crane)
    note(report, "halyard two", now, meeting=meeting)
    note(report, "halyard three", now, topic=brought.licence)
    topics.withdraw(topic=brought.licence, actor=report, now=now)
    one, two, three = (
        note_search.search(report, ["halyard", word]).found[0] for word in ("one", "two", "three")
    )
    assert (one.kind, one.title, one.other, one.meeting_id) == (
        "topic",
        brought.crane.title,
        manager.name,
        meeting.pk,
    )
    assert (two.kind, two.title, two.meeting_id) == ("meeting", "", meeting.pk)
    assert (three.meeting_id, three.has_own_page, three.title) == (None, True, brought.licence.title)


def test_after_a_line_has_ended_its_manager_finds_their_own_words_and_nobody_elses(
    report: Person,
    manager: Person,
    administrator: Person,
    meeting: Meeting,
    brought: Brought,
    now: dt.datetime,
) -> None:
    note(manager, "halyard", now, topic=brought.licence)
    note(manager, "halyard too", now, meeting=meeting)
    lines.end(line=meeting.line, actor=administrator, now=now, today=now.date())
    for one in note_search.search(manager, ["halyard"]).found:
        assert (one.title, one.meeting_id, one.has_own_page) == ("", None, False)
        assert one.other == report.name


def test_a_note_at_a_topic_that_was_discussed_leads_to_the_record(
    report: Person, closed_meeting: Meeting, brought: Brought, now: dt.datetime
) -> None:
    note(report, "halyard", now, topic=brought.crane)
    (one,) = note_search.search(report, ["halyard"]).found
    assert (one.meeting_id, one.is_record) == (closed_meeting.pk, True)


def test_it_costs_the_same_with_twice_the_notes(
    report: Person, brought: Brought, meeting: Meeting, now: dt.datetime
) -> None:
    note(report, "halyard", now, topic=brought.crane)
    note(report, "halyard", now, meeting=meeting)
    with queries() as few:
        assert len(found(report, "halyard")) == 2
    for number in range(4):
        note(report, "halyard", now, topic=make_topic(meeting.line, report, f"Berth {number}"))
    with queries() as many:
        assert len(found(report, "halyard")) == 6
    assert len(many) == len(few)


def test_neither_the_words_nor_the_notes_are_logged(
    report: Person,
    manager: Person,
    brought: Brought,
    meeting: Meeting,
    now: dt.datetime,
    caplog: pytest.LogCaptureFixture,
) -> None:
    issuing.issue(meeting=meeting, actor=manager, now=now)
    note(report, "Spliced the halyard", now, topic=brought.crane)
    caplog.set_level(logging.DEBUG)
    with queries() as made:
        search = note_search.search(report, ["halyard"])
    told = caplog.text + repr(search) + "".join(query["sql"] for query in made.captured_queries)
    assert search.found
    assert "halyard" not in told.casefold()
