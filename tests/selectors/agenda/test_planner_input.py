"""What the planner is given for a meeting, and which meeting people get ready for."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Side, Topic
from oneonone.selectors.agenda import frame, orders, planner_input, planning
from oneonone.selectors.dates import coming_meetings
from oneonone.services.agenda import importance, issuing, topics
from oneonone.services.commitments import commitments, due_dates
from oneonone.services.meetings import held_claims, meetings
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
    due_dates.change_date(
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
    given = planner_input.of(meeting)
    items = {item.key: item for item in given.items}
    crane = items[str(placement_of(brought.crane).pk)]
    fee = items[str(placement_of(then).pk)]
    # Called first, so of rank 0; worth 4, and 2 for an obstacle.
    assert (crane.side, crane.wanted, crane.least, crane.rank, crane.worth) == ("manager", 12, 6, 0, 6)
    assert (fee.must, fee.after) == (True, (str(placement_of(brought.licence).pk),))
    assert (given.frame.minutes, given.frame.opening, given.frame.closing) == (50, 4, 5)


def test_a_topic_of_both_is_on_no_side(meeting: Meeting, brought: Brought) -> None:
    Topic.objects.filter(pk=brought.crane.pk).update(is_joint=True)
    key = str(placement_of(brought.crane).pk)
    assert {item.key: item.side for item in planner_input.of(meeting).items}[key] is None


def test_a_side_that_has_said_nothing_is_not_said_to_have(
    line: Line, manager: Person, report: Person
) -> None:
    topic = make_topic(line, manager)
    assert planner_input.levels_of(topic) == {}
    # The raiser says nothing: in turn, whatever less the other says.
    importance.set_importance(topic=topic, level="if_time", actor=report, now=MADE)
    (item,) = planner_input.of(coming_of(line)).items
    assert (item.rank, item.worth) == (1, 4)
    # Both say so: if time allows, and 2 more because they agree.
    importance.set_importance(topic=topic, level="if_time", actor=manager, now=MADE)
    (item,) = planner_input.of(coming_of(line)).items
    assert (item.rank, item.worth) == (2, 6)


def test_a_topic_skipped_twice_counts_as_first(line: Line, manager: Person) -> None:
    topic = make_topic(line, manager, kind=Topic.Kind.UPDATE)
    for times, rank in ((1, 1), (2, 0)):
        meeting = coming_of(line)
        meetings.start(meeting=meeting, actor=manager, now=meeting.starts_at)
        meetings.close(meeting=meeting, actor=manager, now=meeting.starts_at + dt.timedelta(minutes=40))
        (item,) = planner_input.of(coming_of(line)).items
        assert item.key == str(placement_of(topic).pk)
        assert (item.rank, item.worth) == (rank, 4 + times)


def test_a_topic_kept_once_comes_before_an_equal_new_one(
    closed_meeting: Meeting, next_meeting: Meeting, brought: Brought, report: Person
) -> None:
    fresh = make_topic(next_meeting.line, report, "A fresh update", now=AFTER)
    keys = list(planning.standing(next_meeting).plan.keys)
    assert keys.index(str(placement_of(brought.sundays).pk)) < keys.index(str(placement_of(fresh).pk))


def test_a_preview_is_what_is_issued_and_stores_nothing(
    meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    shown = planning.standing(meeting).plan
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
        planning.standing(meeting)
    for number in range(5):
        make_topic(line, manager, f"Berth {number}", minutes=2)
    with queries() as many:
        planning.standing(meeting)
    assert len(few) == len(many)


def test_the_earliest_meeting_is_the_one_people_get_ready_for(
    line: Line, meeting: Meeting, peer_line: Line, manager: Person, now: dt.datetime
) -> None:
    assert coming_meetings.earliest(line) == meeting
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    assert coming_meetings.earliest(line) == extra
    assert coming_meetings.earliest_of([line.pk, peer_line.pk]) == {
        line.pk: extra,
        peer_line.pk: coming_of(peer_line),
    }


def test_a_meeting_given_up_is_not_waited_for(line: Line, under_way_meeting: Meeting) -> None:
    assert coming_meetings.earliest(line) == under_way_meeting
    held_claims.give_up(meeting=under_way_meeting, now=dt.datetime(2027, 2, 18, 9, 0, tzinfo=dt.UTC))
    assert coming_of(line) != under_way_meeting


def test_the_last_meeting_held_is_told_before_another(
    line: Line, closed_meeting: Meeting, next_meeting: Meeting
) -> None:
    assert coming_meetings.last_held(line) == closed_meeting
    assert coming_meetings.last_held(line, before=closed_meeting) is None
