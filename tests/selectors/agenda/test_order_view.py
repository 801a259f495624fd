"""The order as a reader sees it: what changed since they read it, and what they cannot see."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Order, Side, Topic
from oneonone.planner import LeftOut, Plan, Slot, to_json
from oneonone.planner.reasons import Reason
from oneonone.selectors.agenda import order_view as order
from oneonone.selectors.agenda import orders
from oneonone.services.agenda import order_versions, placement_by_hand
from tests.scene import Brought, make_topic, placement_of


def box(topic: Topic, start: int, minutes: int) -> Slot:
    return Slot(str(placement_of(topic).pk), start, start + minutes, Reason("in_turn"), Reason("full"))


@pytest.fixture
def five(line: Line, manager: Person, meeting: Meeting) -> list[Topic]:
    """Five topics of five minutes, in the order first to fifth."""
    topics = [
        make_topic(line, manager, title, minutes=5) for title in ("one", "two", "three", "four", "five")
    ]
    write(meeting, topics, [5] * 5)
    Meeting.objects.filter(pk=meeting.pk).update(state=Meeting.State.ISSUED)
    meeting.refresh_from_db()
    return topics


def write(meeting: Meeting, topics: list[Topic], minutes: list[int], out: list[Topic] | None = None) -> None:
    starts = [4 + sum(minutes[:place]) for place in range(len(minutes))]
    slots = tuple(box(*one) for one in zip(topics, starts, minutes, strict=True))
    left = tuple(
        LeftOut(str(placement_of(topic).pk), Reason("no_room", (("least", 3), ("free", 0))))
        for topic in out or []
    )
    Order.objects.create(
        meeting=meeting,
        number=meeting.orders.count() + 1,
        cause=Order.Cause.CHANGED,
        at=dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC),
        opening=4,
        closing=5,
        plan=to_json(Plan(slots=slots, left_out=left)),
    )


def changes(reader: Person, meeting: Meeting, read: int | None = 1) -> dict[str, str]:
    shown, _notes = order.of(reader, meeting, read=read)
    return {row.topic.title: row.change.kind for row in shown.boxes if row.change is not None}


def test_of_an_order_that_was_read_nothing_has_changed(
    meeting: Meeting, five: list[Topic], report: Person
) -> None:
    shown, _notes = order.of(report, meeting, read=1)
    assert (shown.is_read, shown.changes, changes(report, meeting)) == (True, 0, {})


def test_one_topic_moved_to_the_front_is_the_only_one_that_moved(
    meeting: Meeting, five: list[Topic], report: Person
) -> None:
    write(meeting, [five[4], *five[:4]], [5] * 5)
    assert changes(report, meeting) == {"five": "moved"}


def test_two_that_change_places_are_one_move(meeting: Meeting, five: list[Topic], report: Person) -> None:
    write(meeting, [five[1], five[0], *five[2:]], [5] * 5)
    assert len(changes(report, meeting)) == 1


def test_longer_shorter_new_and_gone_are_told_apart(
    meeting: Meeting, five: list[Topic], line: Line, report: Person
) -> None:
    new = make_topic(line, report, "six")
    write(meeting, [five[0], five[1], five[2], new], [7, 3, 5, 5], out=five[3:])
    assert changes(report, meeting) == {"one": "longer", "two": "shorter", "six": "new"}
    shown, _notes = order.of(report, meeting, read=1)
    assert shown.left == ("four", "five")
    assert [kept.topic.title for kept in shown.kept] == ["four", "five"]
    assert shown.changes == 5


def test_a_start_that_only_follows_from_another_change_is_no_change_of_its_own(
    meeting: Meeting, five: list[Topic], report: Person
) -> None:
    write(meeting, five, [6, 5, 5, 5, 5])
    assert changes(report, meeting) == {"one": "longer"}


def test_whoever_has_read_none_sees_none_marked(meeting: Meeting, five: list[Topic], report: Person) -> None:
    write(meeting, five[::-1], [5] * 5)
    assert changes(report, meeting, read=None) == {}


def test_reasons_name_topics_by_their_titles(meeting: Meeting, five: list[Topic], report: Person) -> None:
    latest = meeting.orders.get()
    one, two = (str(placement_of(topic).pk) for topic in five[:2])
    slot = Slot(one, 4, 9, Reason("before", (), (two,)), Reason("full", (("minutes", 5),)))
    latest.plan = to_json(Plan(slots=(slot,), given_up=((two, one),)))
    latest.save()
    shown, _notes = order.of(report, meeting)
    assert shown.boxes[0].place.names == ("two",)
    assert shown.given_up == (("two", "one"),)


def test_whoever_called_a_topic_first_or_put_it_in_is_named(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.licence), places=-9, actor=report, now=now)
    shown, _notes = order.of(report, issued_meeting)
    said = {box.topic.title: (box.place.code, box.place.by) for box in shown.boxes}
    assert said[brought.crane.title] == ("first", "Ines")
    assert said[brought.licence.title] == ("by_hand", "Tomas")


# --- moves by the other side


def traces(reader: Person, meeting: Meeting, read: int | None) -> dict[str, tuple[str, int | None]]:
    shown, _notes = order.of(reader, meeting, read=read)
    return {box.topic.title: (box.trace.by, box.trace.was_minute) for box in shown.boxes if box.trace}


def test_a_move_by_hand_is_told_to_the_other_side_until_they_have_read_it(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    before = orders.plan_of(issued_meeting.orders.get()).slot(str(placement_of(brought.licence).pk))
    assert before is not None
    placement_by_hand.move(placement=placement_of(brought.licence), places=-9, actor=manager, now=now)
    assert traces(report, issued_meeting, 1) == {brought.licence.title: ("Ines", before.start)}
    assert traces(report, issued_meeting, 2) == {}
    assert traces(manager, issued_meeting, 1) == {}


def test_topics_that_were_not_moved_do_not_say_that_they_were(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    # One topic to the front: every other one begins later, and none of them was moved.
    placement_by_hand.move(placement=placement_of(brought.licence), places=-9, actor=manager, now=now)
    shown, _notes = order.of(report, issued_meeting, read=1)
    moved = [box.topic.title for box in shown.boxes if box.change and box.change.kind == "moved"]
    assert moved == [brought.licence.title]
    # Of two neighbours that change places either could have moved: the hand says which.
    placement_by_hand.move(placement=placement_of(brought.crane), places=-1, actor=manager, now=now)
    shown, _notes = order.of(report, issued_meeting, read=2)
    moved = [box.topic.title for box in shown.boxes if box.change and box.change.kind == "moved"]
    assert moved == [brought.crane.title]


def test_a_move_that_was_undone_leaves_no_trace(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.licence), places=-9, actor=manager, now=now)
    order_versions.undo(meeting=issued_meeting, actor=report, now=now)
    assert traces(report, issued_meeting, 1) == {}


def test_before_issue_a_move_is_told_too_and_can_be_marked_as_read(
    meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.licence), places=-9, actor=manager, now=now)
    assert set(traces(report, meeting, None)) == {brought.licence.title}
    shown, _notes = order.of(report, meeting)
    assert (shown.number, shown.to_read) == (None, 1)
    shown, _notes = order.of(report, meeting, read=1)
    assert (shown.to_read, traces(report, meeting, 1)) == (None, {})


def test_the_minutes_that_each_side_brings_add_up(
    issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    shown, _notes = order.of(report, issued_meeting)
    both = sum(row.minutes for row in shown.boxes)
    assert shown.brings(Side.MANAGER) + shown.brings(Side.REPORT) == both
    assert both <= shown.room == 41
