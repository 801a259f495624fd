"""What the planner is given for a meeting, and which meeting people get ready for."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Side, Topic
from oneonone.selectors import coming
from oneonone.selectors.agenda import frame, orders, planner_input, planning
from oneonone.services import claims, commitments, duedates, meetings
from oneonone.services.agenda import issuing, topics
from tests.cast import queries
from tests.scene import (
    AFTER,
    MADE,
    QUARTERLY,
    Brought,
    TakenOn,
    coming_of,
    make_line,
    make_topic,
    placement_of,
)


@pytest.mark.parametrize(("minutes", "closing"), [(10, 3), (30, 3), (31, 4), (50, 5), (240, 24)])
def test_the_closing_is_a_tenth_rounded_up_and_at_least_three(minutes: int, closing: int) -> None:
    assert frame.closing_minutes(minutes) == closing


def test_the_opening_is_four_minutes_and_a_quarter_of_a_short_meeting(
    meeting: Meeting, manager: Person, peer: Person
) -> None:
    assert frame.opening_minutes(meeting) == 4
    short = coming_of(make_line(manager, peer, terms=replace(QUARTERLY, minutes=10)))
    assert frame.opening_minutes(short) == 2
    assert frame.longest_topic(short) == 5


def test_two_minutes_for_each_commitment_that_is_due_or_changed(
    next_meeting: Meeting, taken_on: TakenOn, report: Person
) -> None:
    assert set(frame.due_or_changed(next_meeting)) == {taken_on.managers.pk, taken_on.reports.pk}
    assert frame.opening_minutes(next_meeting) == 8
    row = Commitment.objects.get(pk=taken_on.reports.pk)
    duedates.change_date(
        commitment=row, date=dt.date(2027, 6, 1), version=row.version, actor=report, now=AFTER
    )
    assert taken_on.reports.pk in frame.due_or_changed(next_meeting)
    commitments.done(commitment=Commitment.objects.get(pk=row.pk), actor=report, now=AFTER)
    assert taken_on.reports.pk in frame.due_or_changed(next_meeting)


def test_what_is_due_later_and_unchanged_takes_no_time(
    next_meeting: Meeting, line: Line, manager: Person
) -> None:
    before = frame.opening_minutes(next_meeting)
    commitments.take_on(
        line=line,
        owner_side=Side.MANAGER,
        action="Renew the berth contract",
        how_known="",
        date=dt.date(2027, 5, 1),
        actor=manager,
        now=AFTER,
    )
    assert frame.opening_minutes(next_meeting) == before


def test_each_topic_goes_in_with_its_side_minutes_worth_and_what_comes_before_it(
    meeting: Meeting, brought: Brought, line: Line, report: Person
) -> None:
    then = topics.add(
        line=line,
        wording=topics.Wording(title="Then the licence fee"),
        actor=report,
        now=MADE,
        after=[brought.licence],
        must=True,
    )
    sheet = planner_input.of(meeting)
    items = {item.key: item for item in sheet.items}
    crane = items[str(placement_of(brought.crane).pk)]
    fee = items[str(placement_of(then).pk)]
    # 2 x (first 6 + in turn 3) and 2 for an obstacle.
    assert (crane.side, crane.wanted, crane.least, crane.worth) == ("manager", 12, 6, 20)
    assert (fee.must, fee.after) == (True, (str(placement_of(brought.licence).pk),))
    assert (sheet.frame.minutes, sheet.frame.opening, sheet.frame.closing) == (50, 4, 5)


def test_a_topic_of_both_is_on_no_side(meeting: Meeting, brought: Brought) -> None:
    Topic.objects.filter(pk=brought.crane.pk).update(is_joint=True)
    key = str(placement_of(brought.crane).pk)
    assert {item.key: item.side for item in planner_input.of(meeting).items}[key] is None


def test_floors_hold_once_both_sides_have_set_one(line: Line, meeting: Meeting) -> None:
    Line.objects.filter(pk=line.pk).update(manager_floor_percent=30)
    assert planner_input.of(coming_of(line)).frame.floors is None
    Line.objects.filter(pk=line.pk).update(report_floor_percent=40)
    floors = planner_input.of(coming_of(line)).frame.floors
    assert floors is not None
    assert {side: float(share) for side, share in floors.items()} == {"manager": 0.3, "report": 0.4}


def test_a_topic_kept_once_comes_before_an_equal_new_one(
    closed_meeting: Meeting, next_meeting: Meeting, brought: Brought, report: Person
) -> None:
    fresh = make_topic(next_meeting.line, report, "A fresh update", now=AFTER)
    _, made = planning.standing(next_meeting)
    keys = list(made.keys)
    assert keys.index(str(placement_of(brought.sundays).pk)) < keys.index(str(placement_of(fresh).pk))


def test_a_preview_is_what_is_issued_and_stores_nothing(
    meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    _, shown = planning.preview(meeting)
    assert not meeting.orders.exists()
    issuing.issue(meeting=meeting, actor=manager, now=now)
    order = orders.latest(meeting)
    assert order is not None
    assert [(s["key"], s["start"], s["end"]) for s in order.plan["slots"]] == [
        (slot.key, slot.start, slot.end) for slot in shown.slots
    ]


def test_twice_the_topics_cost_no_more_queries(
    meeting: Meeting, brought: Brought, line: Line, manager: Person
) -> None:
    with queries() as few:
        planning.preview(meeting)
    for number in range(5):
        make_topic(line, manager, f"Berth {number}", minutes=2)
    with queries() as many:
        planning.preview(meeting)
    assert len(few) == len(many)


def test_the_earliest_meeting_is_the_one_people_get_ready_for(
    line: Line, meeting: Meeting, peer_line: Line, manager: Person, now: dt.datetime
) -> None:
    assert coming.earliest(line) == meeting
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    assert coming.earliest(line) == extra
    assert coming.earliest_of([line.pk, peer_line.pk]) == {
        line.pk: extra,
        peer_line.pk: coming_of(peer_line),
    }


def test_a_meeting_given_up_is_not_waited_for(line: Line, under_way_meeting: Meeting) -> None:
    assert coming.earliest(line) == under_way_meeting
    claims.give_up(meeting=under_way_meeting, now=dt.datetime(2027, 2, 18, 9, 0, tzinfo=dt.UTC))
    assert coming_of(line) != under_way_meeting


def test_the_last_meeting_held_is_told_before_another(
    line: Line, closed_meeting: Meeting, next_meeting: Meeting
) -> None:
    assert coming.last_held(line) == closed_meeting
    assert coming.last_held(line, before=closed_meeting) is None
