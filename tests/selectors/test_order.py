"""The order as a reader sees it: what changed since they read it, and what they cannot see."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Order, Side, Topic
from oneonone.planner import LeftOut, Plan, Slot, to_json
from oneonone.planner.reasons import Reason
from oneonone.selectors.agenda import order_view as order
from tests.scene import Brought, make_topic, placement_of


def box(topic: Topic, start: int, minutes: int) -> Slot:
    return Slot(str(placement_of(topic).pk), start, start + minutes, Reason("last"), Reason("full"))


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
        LeftOut(str(placement_of(topic).pk), Reason("no_minutes", (("least", 3), ("free", 0))))
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


def test_reasons_name_topics_by_their_titles_and_sides_by_their_people(
    meeting: Meeting, five: list[Topic], report: Person
) -> None:
    latest = meeting.orders.get()
    key = str(placement_of(five[0]).pk)
    slot = Slot(key, 4, 9, Reason("kept", (), (str(placement_of(five[1]).pk),)), Reason("full"))
    latest.plan = to_json(
        Plan(slots=(slot,), relaxed=(Reason("floor_short", (("minutes", 3),), ("report",)),))
    )
    latest.save()
    shown, _notes = order.of(report, meeting)
    assert shown.boxes[0].place.names == ("two",)
    assert shown.relaxed[0].names == ("Tomas Lindqvist",)


def test_the_minutes_that_each_side_brings_add_up(
    issued_meeting: Meeting, brought: Brought, report: Person
) -> None:
    shown, _notes = order.of(report, issued_meeting)
    both = sum(row.minutes for row in shown.boxes)
    assert shown.brings(Side.MANAGER) + shown.brings(Side.REPORT) == both
    assert both <= shown.room == 41
