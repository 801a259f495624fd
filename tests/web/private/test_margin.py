"""The margin on the page: one's own notes and unclear marks, and nobody else's."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import MarginNote, Meeting
from oneonone.selectors.private import margin as selector
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, spoilt
from tests.scene import DURING, Brought

WORDS = "Ask about the spring tide first."


def note_at(brought: Brought) -> str:
    return reverse("margin-write", kwargs={"topic_id": brought.crane.pk})


def unclear_at(brought: Brought) -> str:
    return reverse("margin-unclear", args=[brought.crane.pk])


def test_a_note_at_a_topic_is_kept_and_shown_to_its_author_alone(
    client_for: ClientFor, meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    client, page = client_for(report), reverse("meeting", args=[meeting.pk])
    answer = client.post(note_at(brought), {"words": WORDS, "revision": 0, "next": page})
    assert answer.headers["Location"] == f"{page}#topic-{brought.crane.pk}"
    assert_sees(client.get(page), WORDS)
    assert_sees(client.get(note_at(brought)), WORDS)
    other = client_for(manager)
    assert_not_sees(other.get(page), WORDS)
    assert_not_sees(other.get(note_at(brought)), WORDS)


def test_each_side_has_a_note_of_its_own_at_the_same_topic(
    client_for: ClientFor, meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    client_for(report).post(note_at(brought), {"words": WORDS, "revision": 0})
    client_for(manager).post(note_at(brought), {"words": "Offer the second week.", "revision": 0})
    assert selector.at_topic(report, brought.crane).words == WORDS
    assert selector.at_topic(manager, brought.crane).words == "Offer the second week."


def test_a_note_at_the_meeting_stands_beside_its_opening(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    client.post(reverse("margin-write", kwargs={"meeting_id": meeting.pk}), {"words": WORDS, "revision": 0})
    assert_sees(client.get(reverse("meeting", args=[meeting.pk])), WORDS)


def test_words_are_nowhere_in_the_database_in_plain(
    client_for: ClientFor, brought: Brought, report: Person
) -> None:
    client_for(report).post(note_at(brought), {"words": WORDS, "revision": 0})
    blob = bytes(MarginNote.objects.of(report).get().blob)
    assert WORDS.encode() not in blob


def test_one_press_marks_a_topic_unclear_and_one_takes_it_back(
    client_for: ClientFor, issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    client, page = client_for(report), reverse("meeting", args=[issued_meeting.pk])
    answer = client.post(unclear_at(brought), {"unclear": "1"})
    assert answer.headers["Location"] == f"{page}#topic-{brought.crane.pk}"
    assert_sees(client.get(page), "ask at")
    client.post(unclear_at(brought), {"unclear": "0"})
    assert not selector.at_topic(report, brought.crane)


def test_the_mark_leaves_the_words_and_the_words_leave_the_mark(
    client_for: ClientFor, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    client.post(note_at(brought), {"words": WORDS, "revision": 0})
    client.post(unclear_at(brought), {"unclear": "1"})
    marked = selector.at_topic(report, brought.crane)
    assert (marked.words, marked.unclear) == (WORDS, True)
    client.post(note_at(brought), {"words": "Neap tide.", "unclear": "on", "revision": marked.revision})
    changed = selector.at_topic(report, brought.crane)
    assert (changed.words, changed.unclear) == ("Neap tide.", True)


def test_an_emptied_note_is_gone(client_for: ClientFor, brought: Brought, report: Person) -> None:
    client = client_for(report)
    client.post(note_at(brought), {"words": WORDS, "revision": 0})
    client.post(note_at(brought), {"words": "  ", "revision": 1})
    assert not MarginNote.objects.of(report).exists()


def test_a_note_written_over_in_another_window_shows_both_texts(
    client_for: ClientFor, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    client.post(note_at(brought), {"words": WORDS, "revision": 0})
    answer = client.post(note_at(brought), {"words": "Typed in the other window.", "revision": 0})
    assert answer.status_code == 412
    assert WORDS in body_of(answer)
    assert "Typed in the other window." in body_of(answer)
    assert selector.at_topic(report, brought.crane).words == WORDS
    assert 'name="revision" value="1"' in body_of(answer)


@pytest.mark.parametrize(
    ("fields", "accepted"),
    [
        ({"words": "w" * 4001, "revision": "0"}, "At most 4000 characters"),
        ({"words": "one\u202etwo", "revision": "0"}, "Ordinary characters and line breaks."),
        ({"words": WORDS}, "Open it again"),
        ({"words": WORDS, "revision": "-1"}, "Open it again"),
    ],
)
def test_a_note_that_cannot_be_kept_is_refused_and_shown_again(
    fields: dict[str, str], accepted: str, client_for: ClientFor, brought: Brought, report: Person
) -> None:
    answer = client_for(report).post(note_at(brought), fields)
    assert answer.status_code == 422
    assert accepted in body_of(answer)
    assert fields["words"] in body_of(answer)
    assert not MarginNote.objects.of(report).exists()


def test_a_note_that_cannot_be_opened_is_said_to_be_there_and_never_written_over(
    client_for: ClientFor, meeting: Meeting, brought: Brought, report: Person
) -> None:
    client = client_for(report)
    client.post(note_at(brought), {"words": WORDS, "revision": 0})
    row = MarginNote.objects.of(report).get()
    MarginNote.objects.of(report).update(blob=spoilt(row.blob))
    page = client.get(reverse("meeting", args=[meeting.pk]))
    assert_sees(page, "A note of yours is here and cannot be opened.")
    client.post(note_at(brought), {"words": "Written over", "revision": 1})
    client.post(unclear_at(brought), {"unclear": "1"})
    assert bytes(MarginNote.objects.of(report).get().blob) == spoilt(row.blob)


def test_the_live_page_shows_the_note_of_the_topic_it_is_at(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    client, live = client_for(report), reverse("meeting-live", args=[under_way_meeting.pk])
    clock.hold_at(DURING)
    client.post(note_at(brought), {"words": WORDS, "revision": 0, "next": live})
    assert_sees(client.get(live), WORDS)
    assert_not_sees(client_for(manager).get(live), WORDS)


def test_the_record_keeps_ones_notes_beside_it(
    client_for: ClientFor, closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    client, page = client_for(report), reverse("record", args=[closed_meeting.pk])
    clock.hold_at(dt.datetime(2026, 12, 3, 11, 0, tzinfo=dt.UTC))
    client.post(
        reverse("margin-write", kwargs={"meeting_id": closed_meeting.pk}), {"words": WORDS, "revision": 0}
    )
    assert_sees(client.get(page), WORDS)
    assert_not_sees(client_for(manager).get(page), WORDS)
