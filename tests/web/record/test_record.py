"""The record: lines with an author, what was decided and taken on, additions, and who has seen it."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.urls import reverse

from accounts.models import Person
from oneonone import clock
from oneonone.models import Meeting, Placement, RecordAddition, RecordLine, Seen
from oneonone.services.record import record
from tests.cast import ClientFor, assert_not_sees, assert_sees, body_of, queries
from tests.scene import AFTER, DURING, Brought, TakenOn

KEPT = dt.datetime(2026, 12, 8, 9, 0, tzinfo=dt.UTC)


def page_of(meeting: Meeting) -> str:
    return reverse("record", args=[meeting.pk])


def line_data(**fields: object) -> dict[str, object]:
    return {"kind": "said", "words": "The tide is at six.", "client_key": str(uuid4()), **fields}


def test_both_sides_read_lines_decisions_and_what_was_taken_on(
    client_for: ClientFor, closed_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    for person in (manager, report):
        client = client_for(person)
        clock.hold_at(AFTER)
        shown = client.get(page_of(closed_meeting))
        assert_sees(shown, "The harbour gives slots a month ahead only.")
        decided = body_of(shown).split('id="decided"')[1].split("</section>")[0]
        assert "Ask for the second week of January." in decided
        assert "Crane slot at the Skerry pontoon" in decided
        for one in (taken_on.managers, taken_on.reports, taken_on.offered):
            assert_sees(shown, one.action)
        kept = body_of(shown).split("Kept for next time")[1]
        assert "Both new deckhands signed off" in kept


def test_topics_without_a_line_are_named_together_each_with_its_form(
    client_for: ClientFor, closed_meeting: Meeting, report: Person
) -> None:
    clock.hold_at(AFTER)
    discussed = Placement.objects.filter(meeting=closed_meeting, outcome=Placement.Outcome.DISCUSSED)
    unwritten = discussed.exclude(
        pk__in=RecordLine.objects.filter(placement__in=discussed).values("placement")
    )
    assert unwritten
    body = body_of(client_for(report).get(page_of(closed_meeting)))
    together = body.split("Discussed, nothing written:")[1].split("About the meeting as a whole")[0]
    for placement in unwritten:
        assert placement.topic.title in together
        assert f'name="placement" value="{placement.pk}"' in together
    for placement in discussed.exclude(pk__in=unwritten.values("pk")):
        assert placement.topic.title not in together


def test_a_meeting_that_was_not_held_has_no_record(
    client_for: ClientFor, meeting: Meeting, report: Person
) -> None:
    answer = client_for(report).get(page_of(meeting))
    assert answer.headers["Location"] == reverse("meeting", args=[meeting.pk])


# --- lines


def test_a_line_written_under_way_stands_at_its_topic_with_its_author(
    client_for: ClientFor, under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    current = under_way_meeting.current
    assert current is not None
    client, live = client_for(report), reverse("meeting-live", args=[under_way_meeting.pk])
    clock.hold_at(DURING)
    add = reverse("record-line-add", args=[under_way_meeting.pk])
    answer = client.post(add, line_data(placement=str(current.pk), kind="decided", next=live))
    assert answer.headers["Location"] == live
    written = RecordLine.objects.get()
    assert (written.author, written.placement, written.kind) == (report, current, "decided")
    assert_sees(client_for(manager).get(live), "written by Tomas Lindqvist")


def test_the_same_line_sent_twice_is_one_line(
    client_for: ClientFor, under_way_meeting: Meeting, report: Person
) -> None:
    client, data = client_for(report), line_data()
    clock.hold_at(DURING)
    for _time in range(2):
        client.post(reverse("record-line-add", args=[under_way_meeting.pk]), data)
    assert RecordLine.objects.count() == 1


@pytest.mark.parametrize(
    ("fields", "accepted"),
    [
        ({"words": ""}, "Enter something here."),
        ({"words": "w" * 4001}, "At most 4000 characters"),
        ({"kind": "shouted"}, "is not offered. Choose"),
        ({"kind": "taken_on"}, "is not offered. Choose"),
        ({"words": "one\u202etwo"}, "Ordinary characters and line breaks."),
    ],
)
def test_a_line_that_cannot_be_kept_is_refused_and_shown_again(
    fields: dict[str, str],
    accepted: str,
    client_for: ClientFor,
    under_way_meeting: Meeting,
    report: Person,
) -> None:
    client, data = client_for(report), line_data(**fields)
    clock.hold_at(DURING)
    answer = client.post(reverse("record-line-add", args=[under_way_meeting.pk]), data)
    assert answer.status_code == 422
    assert accepted in body_of(answer)
    assert str(data["words"]) in body_of(answer)
    assert not RecordLine.objects.exists()


def test_a_topic_of_another_meeting_is_no_place_for_a_line(
    client_for: ClientFor, closed_meeting: Meeting, next_meeting: Meeting, report: Person
) -> None:
    elsewhere = Placement.objects.filter(meeting=next_meeting).first()
    assert elsewhere is not None
    client = client_for(report)
    clock.hold_at(AFTER)
    before = RecordLine.objects.count()
    answer = client.post(
        reverse("record-line-add", args=[closed_meeting.pk]),
        line_data(placement=str(elsewhere.pk), words="Said on the stairs."),
    )
    assert answer.status_code == 422
    assert "A topic of this one-on-one." in body_of(answer)
    assert "Said on the stairs." in body_of(answer)
    assert RecordLine.objects.count() == before


def test_its_author_changes_a_line_and_an_older_version_shows_both_texts(
    client_for: ClientFor, closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    own = RecordLine.objects.get(kind="said")
    client, edit = client_for(report), reverse("record-line-edit", args=[own.pk])
    clock.hold_at(AFTER)
    assert_sees(client.get(edit), own.words)
    client.post(edit, {"words": "Slots are given a month ahead.", "version": own.version})
    answer = client.post(edit, {"words": "Typed in another window.", "version": own.version})
    assert answer.status_code == 412
    assert "Typed in another window." in body_of(answer)
    assert "Slots are given a month ahead." in body_of(answer)
    own.refresh_from_db()
    assert own.words == "Slots are given a month ahead."


def test_taking_ones_words_out_leaves_that_a_line_was_there(
    client_for: ClientFor, closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    own = RecordLine.objects.get(kind="said")
    words, remove = own.words, reverse("record-line-remove", args=[own.pk])
    client = client_for(report)
    clock.hold_at(AFTER)
    assert_sees(client.get(remove), words)
    client.post(remove)
    shown = client_for(manager).get(page_of(closed_meeting))
    assert_not_sees(shown, words)
    assert "Words removed on" in body_of(shown)


# --- frozen


def test_the_words_of_an_addition_are_taken_out_by_their_author_after_saying_what_stays(
    client_for: ClientFor, closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    addition = record.add(meeting=closed_meeting, words="The slot is the 14th.", actor=report, now=KEPT)
    page = reverse("record-addition-remove", args=[addition.pk])
    client, other = client_for(report), client_for(manager)
    clock.hold_at(KEPT)
    assert page in body_of(client.get(page_of(closed_meeting)))
    assert page not in body_of(other.get(page_of(closed_meeting)))
    assert other.post(page).status_code == 403
    assert_sees(client.get(page), "The slot is the 14th.")
    said = client.post(page, follow=True)
    assert_sees(said, "Your words are removed.")
    for shown in (said, other.get(page_of(closed_meeting))):
        assert_not_sees(shown, "The slot is the 14th.")
        assert_sees(shown, "Words removed on")
    assert_sees(client.get(page), "They are already removed.")


def test_once_it_is_kept_nothing_is_changed_and_additions_carry_their_date(
    client_for: ClientFor, closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    own = RecordLine.objects.get(kind="said")
    client = client_for(report)
    clock.hold_at(KEPT)
    assert closed_meeting.record_at < KEPT
    refused = client.post(
        reverse("record-line-edit", args=[own.pk]), {"words": "Later wisdom.", "version": own.version}
    )
    assert refused.status_code == 422
    assert "An addition with its date is possible." in body_of(refused)
    late = client.post(reverse("record-line-add", args=[closed_meeting.pk]), line_data())
    assert late.status_code == 422
    key = str(uuid4())
    for _time in range(2):
        client.post(
            reverse("record-addition-add", args=[closed_meeting.pk]),
            {"words": "The slot is the 14th.", "client_key": key},
        )
    assert RecordAddition.objects.count() == 1
    other = client_for(manager)
    clock.hold_at(KEPT)
    shown = other.get(page_of(closed_meeting))
    assert_sees(shown, "The slot is the 14th.")
    assert_sees(shown, "Tuesday 8 December 2026, 09:00")


def test_before_it_is_kept_an_addition_is_refused_and_shown_again(
    client_for: ClientFor, closed_meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(AFTER)
    answer = client.post(
        reverse("record-addition-add", args=[closed_meeting.pk]),
        {"words": "The slot is the 14th.", "client_key": str(uuid4())},
    )
    assert answer.status_code == 422
    assert "Until the record is kept, write a line." in body_of(answer)
    assert "The slot is the 14th." in body_of(answer)


# --- seen


def test_seen_is_marked_by_each_side_once_and_is_not_agreeing(
    client_for: ClientFor, closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(AFTER)
    for _time in range(2):
        client.post(reverse("record-seen", args=[closed_meeting.pk]))
    assert Seen.objects.get().side == "report"
    shown = client.get(page_of(closed_meeting))
    assert_sees(shown, "Marking it as seen does not mean that you agree.")
    assert reverse("record-seen", args=[closed_meeting.pk]) not in body_of(shown)
    other = client_for(manager)
    clock.hold_at(AFTER)
    assert reverse("record-seen", args=[closed_meeting.pk]) in body_of(other.get(page_of(closed_meeting)))


def test_ten_lines_take_as_many_queries_as_five(
    client_for: ClientFor, closed_meeting: Meeting, report: Person
) -> None:
    client = client_for(report)
    clock.hold_at(AFTER)

    def say(times: int) -> None:
        for number in range(times):
            record.write(
                meeting=closed_meeting, kind="said", words=f"Slot {number}.", actor=report, now=AFTER
            )

    say(3)
    client.get(page_of(closed_meeting))
    with queries() as five:
        client.get(page_of(closed_meeting))
    say(5)
    with queries() as ten:
        client.get(page_of(closed_meeting))
    assert len(ten) == len(five)
