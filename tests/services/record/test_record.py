"""The record: who writes, until when, and what stays of it."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import Meeting, RecordAddition, RecordLine, Seen, Snapshot
from oneonone.services.lines import lines
from oneonone.services.record import record
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange, Stale, TooLong
from tests.scene import AFTER, CLOSED, DURING, Brought, placement_of

pytestmark = pytest.mark.django_db
FROZEN = dt.datetime(2026, 12, 8, 9, 0, tzinfo=dt.UTC)


def write(meeting: Meeting, actor: Person, now: dt.datetime = DURING, **changes: object) -> RecordLine:
    values: dict[str, object] = {
        "meeting": meeting, "kind": "said", "words": "The pontoon is booked.", "actor": actor, "now": now,
    }  # fmt: skip
    return record.write(**{**values, **changes})  # type: ignore[arg-type]


def test_both_write_lines_of_their_own_and_open_pages_are_told(
    under_way_meeting: Meeting, manager: Person, report: Person, brought: Brought
) -> None:
    before = Meeting.objects.get(pk=under_way_meeting.pk).seq
    write(under_way_meeting, manager, placement=placement_of(brought.crane))
    write(under_way_meeting, report, kind="decided")
    assert [line.author for line in RecordLine.objects.order_by("kind")] == [report, manager]
    assert Meeting.objects.get(pk=under_way_meeting.pk).seq == before + 2


@pytest.mark.parametrize(
    ("changes", "field", "refusal"),
    [
        ({"words": " "}, "words", TooLong),
        ({"words": "x" * 4001}, "words", TooLong),
        ({"words": "a\x00b"}, "words", TooLong),
        ({"kind": "taken_on"}, "kind", OutOfRange),
        ({"kind": "thought"}, "kind", OutOfRange),
    ],
)
def test_a_refusal_names_its_field(
    under_way_meeting: Meeting,
    manager: Person,
    changes: dict[str, Any],
    field: str,
    refusal: type[Exception],
) -> None:
    with pytest.raises(refusal) as refused:
        write(under_way_meeting, manager, **changes)
    assert refused.value.field == field  # type: ignore[attr-defined]
    assert not RecordLine.objects.exists()


def test_nothing_is_written_before_the_meeting_nor_by_anybody_else(
    issued_meeting: Meeting, manager: Person, outsider: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        write(issued_meeting, manager, now)
    Meeting.objects.filter(pk=issued_meeting.pk).update(state="under_way", began_at=now)
    issued_meeting.refresh_from_db()
    with pytest.raises(NotNow):
        write(issued_meeting, outsider, now)


def test_sent_twice_with_one_key_it_is_one_line(under_way_meeting: Meeting, manager: Person) -> None:
    key = uuid4()
    assert write(under_way_meeting, manager, client_key=key) == write(
        under_way_meeting, manager, client_key=key
    )
    assert RecordLine.objects.count() == 1


def test_one_edits_ones_own_lines_only(under_way_meeting: Meeting, manager: Person, report: Person) -> None:
    line = write(under_way_meeting, manager)
    with pytest.raises(NotAllowed):
        record.edit(line=line, words="Something else", version=1, actor=report, now=DURING)
    record.edit(line=line, words="The pontoon is booked for May.", version=1, actor=manager, now=DURING)
    assert (line.words, line.version) == ("The pontoon is booked for May.", 2)


def test_an_edit_of_what_changed_meanwhile_shows_the_words_that_stand(
    under_way_meeting: Meeting, manager: Person
) -> None:
    line = write(under_way_meeting, manager)
    record.edit(line=line, words="First", version=1, actor=manager, now=DURING)
    with pytest.raises(Stale) as stale:
        record.edit(line=line, words="Second", version=1, actor=manager, now=DURING)
    assert (stale.value.theirs, stale.value.version) == ({"words": "First"}, 2)


def test_until_the_record_instant_it_is_written_up_and_from_then_on_added_to(
    closed_meeting: Meeting, manager: Person
) -> None:
    """Two working days after Thursday 3 December, at noon: Monday the 7th."""
    assert closed_meeting.record_at == dt.datetime(2026, 12, 7, 12, 0, tzinfo=dt.UTC)
    line = write(closed_meeting, manager, AFTER)
    with pytest.raises(NotNow):
        record.add(meeting=closed_meeting, words="Too early.", actor=manager, now=AFTER)
    with pytest.raises(NotNow):
        write(closed_meeting, manager, closed_meeting.record_at)
    with pytest.raises(NotNow):
        record.edit(line=line, words="Late", version=1, actor=manager, now=FROZEN)
    addition = record.add(meeting=closed_meeting, words="The crane came in May.", actor=manager, now=FROZEN)
    assert (addition.at, addition.author) == (FROZEN, manager)
    line.refresh_from_db()
    assert line.words == "The pontoon is booked."


def test_an_addition_sent_twice_is_one(closed_meeting: Meeting, manager: Person) -> None:
    key = uuid4()
    for _time in range(2):
        record.add(meeting=closed_meeting, words="Once.", actor=manager, now=FROZEN, client_key=key)
    assert RecordAddition.objects.count() == 1


def test_ones_own_words_can_go_at_any_time_and_that_they_were_there_stays(
    closed_meeting: Meeting, manager: Person, report: Person
) -> None:
    line = closed_meeting.record_lines.get(kind="decided")
    addition = record.add(meeting=closed_meeting, words="An addition.", actor=manager, now=FROZEN)
    with pytest.raises(NotAllowed):
        record.remove(line=line, actor=report, now=FROZEN)
    with pytest.raises(NotAllowed):
        record.remove_addition(addition=addition, actor=report, now=FROZEN)
    record.remove(line=line, actor=manager, now=FROZEN)
    record.remove_addition(addition=addition, actor=manager, now=FROZEN)
    assert (line.words, line.removed_at) == ("", FROZEN)
    assert (addition.words, addition.removed_at) == ("", FROZEN)
    taken_on = closed_meeting.record_lines.filter(kind="taken_on", author=manager)[0]
    with pytest.raises(NotNow):
        record.remove(line=taken_on, actor=manager, now=FROZEN)


def test_a_side_has_seen_it_once_and_the_first_time_stays(
    closed_meeting: Meeting, report: Person, outsider: Person
) -> None:
    record.mark_seen(meeting=closed_meeting, actor=report, now=AFTER)
    record.mark_seen(meeting=closed_meeting, actor=report, now=FROZEN)
    assert [(seen.side, seen.at) for seen in Seen.objects.all()] == [("report", AFTER)]
    with pytest.raises(NotNow):
        record.mark_seen(meeting=closed_meeting, actor=outsider, now=AFTER)


def test_the_snapshot_holds_ids_and_versions_and_no_words(closed_meeting: Meeting, manager: Person) -> None:
    kept = Snapshot.objects.get(meeting=closed_meeting)
    lines_then = {str(line.pk): line.version for line in closed_meeting.record_lines.all()}
    assert dict(kept.rows["lines"]) == lines_then
    assert len(kept.rows["commitments"]) == 3
    assert len(kept.rows["placements"]) == 5
    assert kept.rows["order"] == closed_meeting.orders.order_by("number").last().number  # type: ignore[union-attr]
    stored = json.dumps(kept.rows)
    for words in ("harbour", "January", "crane", "handover", "licence"):
        assert words not in stored
    again = record.snapshot(meeting=closed_meeting, actor=manager, now=AFTER)
    assert (again.pk, again.at) == (kept.pk, CLOSED)


def test_the_record_of_an_ended_line_takes_nothing_more(
    closed_meeting: Meeting, report: Person, administrator: Person
) -> None:
    lines.end(line=closed_meeting.line, actor=administrator, now=AFTER, today=AFTER.date())
    closed_meeting.refresh_from_db()
    with pytest.raises(NotNow):
        write(closed_meeting, report, AFTER)
    with pytest.raises(NotNow):
        record.add(meeting=closed_meeting, words="After all.", actor=report, now=FROZEN)
