"""A start that is taken back: what was before is there again, and what was added since stays."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, MustDiscuss, Notice, Order, Placement, Proposal, Topic
from oneonone.selectors.agenda import orders, planner_input
from oneonone.selectors.meetings import meeting_under_way as selector
from oneonone.services.agenda import issuing, topics
from oneonone.services.meetings import meeting_jobs, meetings, starting
from oneonone.services.private import preparation
from oneonone.services.record import record
from oneonone.services.refusals import NotNow
from tests.scene import STARTS, Brought, coming_of, make_topic, placement_of, titles_of, undecided_at

EARLY = dt.datetime(2026, 11, 26, 9, 0, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)
# What a start leaves behind for good: counters that pages and clients follow.
COUNTERS = {"seq", "version"}


def start(meeting: Meeting, actor: Person, now: dt.datetime = EARLY) -> dict[str, object]:
    """Start a meeting; its row as it was before."""
    before: dict[str, object] = {**Meeting.objects.values().get(pk=meeting.pk)}
    meetings.start(meeting=meeting, actor=actor, now=now)
    return before


def take_back(meeting: Meeting, actor: Person, now: dt.datetime = EARLY + 5 * MINUTE) -> Meeting:
    return starting.take_back(meeting=meeting, actor=actor, now=now)


def differs(meeting: Meeting, before: dict[str, object]) -> set[str]:
    now: dict[str, object] = {**Meeting.objects.values().get(pk=meeting.pk)}
    return {name for name in now if now[name] != before[name]} - COUNTERS


def take_up(meeting: Meeting, topic: Topic | None, actor: Person, now: dt.datetime) -> None:
    to = None if topic is None else placement_of(topic)
    meetings.go_on(meeting=meeting, to=to, continues=False, actor=actor, now=now)


def test_a_planned_meeting_is_planned_again_and_the_order_is_withdrawn(
    meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    before = start(meeting, manager)
    assert meeting.confirmed_at == EARLY
    take_back(meeting, report)
    assert differs(meeting, before) == set()
    assert meeting.state == Meeting.State.PLANNED
    assert orders.latest(meeting) is None
    assert undecided_at(meeting) == titles_of(brought)
    # The job issues it at its time, as if nothing had been.
    assert meeting in meeting_jobs.to_issue(meeting.issue_at)


def test_an_issued_meeting_keeps_the_order_that_people_prepared_against(
    issued_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    kept = orders.latest(issued_meeting)
    before = start(issued_meeting, manager)
    take_up(issued_meeting, brought.crane, manager, EARLY + MINUTE)
    take_back(issued_meeting, manager)
    assert differs(issued_meeting, before) == set()
    assert orders.latest(issued_meeting) == kept
    crane = placement_of(brought.crane)
    assert (crane.began_at, crane.minutes_planned) == (None, None)


def test_the_number_of_a_withdrawn_order_is_not_used_again_so_that_nobody_has_read_the_next(
    meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    start(meeting, manager)
    preparation.mark_read(meeting=meeting, number=1, actor=report, now=EARLY, today=EARLY.date())
    take_back(meeting, manager)
    again = issuing.issue(meeting=meeting, actor=manager, now=EARLY + 10 * MINUTE)
    assert again.number == 2
    assert [order.number for order in Order.every.filter(meeting=meeting)] == [1, 2]
    assert [order.number for order in meeting.orders.all()] == [2]


def test_a_topic_that_was_left_for_the_reading_back_waits_again_with_its_must(
    line: Line, meeting: Meeting, manager: Person
) -> None:
    topic = make_topic(line, manager, must=True)
    start(meeting, manager)
    take_up(meeting, topic, manager, EARLY + MINUTE)
    take_up(meeting, None, manager, EARLY + 2 * MINUTE)
    topic.refresh_from_db()
    assert topic.state == Topic.State.FINISHED
    take_back(meeting, manager)
    topic.refresh_from_db()
    assert topic.state == Topic.State.OPEN
    assert planner_input.musts_of(meeting).keys() == {placement_of(topic).pk}


def test_topics_added_since_are_kept_and_wait_for_nobody_before_issue(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    start(meeting, manager)
    added = make_topic(line, report, "The whole winter plan", now=EARLY + MINUTE, minutes=35)
    assert Proposal.objects.get().state == Proposal.State.OPEN
    take_back(meeting, manager)
    assert added.title in undecided_at(meeting)
    assert not placement_of(added).is_late
    assert Proposal.objects.get().state == Proposal.State.LAPSED
    notice = Notice.objects.get(kind=Notice.Kind.PROPOSAL)
    assert notice.cancelled_at is not None


def test_topics_added_since_have_their_place_in_the_order_that_stands_again(
    line: Line, issued_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    topics.withdraw(topic=brought.sheet, actor=report, now=EARLY - MINUTE)
    start(issued_meeting, manager)
    added = make_topic(line, report, "A word on the tide gauge", now=EARLY + MINUTE, minutes=2)
    take_back(issued_meeting, manager)
    order = orders.latest(issued_meeting)
    assert order is not None
    assert str(placement_of(added).pk) in {slot["key"] for slot in order.plan["slots"]}


def test_it_is_refused_from_the_first_line_on(
    meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    start(meeting, manager)
    record.write(meeting=meeting, kind="said", words="The crane is free.", actor=report, now=EARLY)
    with pytest.raises(NotNow):
        take_back(meeting, manager)
    assert not selector.may_be_taken_back(meeting)


def test_it_is_refused_from_the_second_topic_on(meeting: Meeting, brought: Brought, manager: Person) -> None:
    start(meeting, manager)
    take_up(meeting, brought.crane, manager, EARLY + MINUTE)
    assert selector.may_be_taken_back(meeting)
    take_up(meeting, brought.sheet, manager, EARLY + 2 * MINUTE)
    assert not selector.may_be_taken_back(meeting)
    with pytest.raises(NotNow):
        take_back(meeting, manager)


def test_both_may_press_it(meeting: Meeting, manager: Person, report: Person) -> None:
    start(meeting, manager)
    for actor in (manager, report):
        take_back(Meeting.objects.get(pk=meeting.pk), actor)
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.PLANNED


def test_a_meeting_that_was_closed_is_not_taken_back(closed_meeting: Meeting, manager: Person) -> None:
    with pytest.raises(NotNow):
        take_back(closed_meeting, manager)


def test_no_second_meeting_is_made_while_one_that_began_early_may_be_taken_back(
    line: Line, meeting: Meeting, manager: Person
) -> None:
    start(meeting, manager)
    assert line not in meeting_jobs.lines_without_coming(EARLY + MINUTE)
    assert meeting_jobs.make_coming(line, EARLY + MINUTE)
    assert line.meetings.count() == 1


def test_started_again_it_issues_again(meeting: Meeting, brought: Brought, manager: Person) -> None:
    start(meeting, manager)
    take_back(meeting, manager)
    start(meeting, manager, STARTS)
    order = orders.latest(meeting)
    assert order is not None
    assert (order.number, order.cause, meeting.began_at) == (2, Order.Cause.STARTED, STARTS)


@pytest.mark.parametrize(
    ("began", "zero"),
    [
        (STARTS, STARTS),
        (STARTS + 7 * MINUTE, STARTS),
        (STARTS - 20 * MINUTE, STARTS - 20 * MINUTE),
        (EARLY, EARLY),
        (STARTS + 50 * MINUTE, STARTS),
        (STARTS + 51 * MINUTE, STARTS + 51 * MINUTE),
    ],
    ids=["on time", "late", "a little early", "a week early", "at its end", "after its end"],
)
def test_early_it_runs_from_its_real_start_and_late_it_keeps_its_end(
    meeting: Meeting, began: dt.datetime, zero: dt.datetime
) -> None:
    meeting.began_at = began
    assert meeting.minute_zero == zero
    assert meeting.meant_until == zero + 50 * MINUTE


# --- held early


def hold(meeting: Meeting, actor: Person, at: dt.datetime) -> None:
    meetings.start(meeting=meeting, actor=actor, now=at)
    meetings.close(meeting=meeting, actor=actor, now=at + 30 * MINUTE)


def test_a_meeting_held_a_week_early_leaves_its_date_on_the_grid(
    line: Line, meeting: Meeting, brought: Brought, manager: Person
) -> None:
    hold(meeting, manager, EARLY)
    following = coming_of(line)
    assert following.pk != meeting.pk
    assert (following.starts_at, following.nominal_date) == (STARTS, dt.date(2026, 12, 3))
    meeting.refresh_from_db()
    assert (meeting.held_on, meeting.is_extra) == (dt.date(2026, 11, 26), True)
    assert undecided_at(following) == titles_of(brought)


def test_a_meeting_held_a_few_days_early_was_that_of_its_date(
    line: Line, meeting: Meeting, manager: Person
) -> None:
    hold(meeting, manager, EARLY + dt.timedelta(days=1))
    assert coming_of(line).starts_at == dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)


def test_moved_back_to_its_date_it_is_that_one_again(line: Line, meeting: Meeting, manager: Person) -> None:
    at = dt.datetime(2026, 11, 20, 9, 0, tzinfo=dt.UTC)
    meetings.move(meeting=meeting, starts_at=EARLY, actor=manager, now=at)
    meetings.move(meeting=meeting, starts_at=STARTS, actor=manager, now=at)
    assert line.meetings.count() == 1
    hold(meeting, manager, STARTS)
    assert coming_of(line).starts_at == dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)


# --- must-discuss again


def test_a_must_that_was_not_reached_is_must_at_the_next_one(
    line: Line, meeting: Meeting, manager: Person, report: Person
) -> None:
    must = make_topic(line, report, must=True)
    hold(meeting, manager, STARTS)
    following = coming_of(line)
    (mark,) = MustDiscuss.objects.filter(meeting=following)
    assert (mark.side, mark.placement) == ("report", placement_of(must))


def test_a_must_outlives_a_meeting_that_was_called_off_and_one_more(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    must = make_topic(line, report, must=True)
    meetings.call_off(meeting=meeting, actor=manager, now=now)
    meetings.call_off(meeting=coming_of(line), actor=manager, now=now)
    assert planner_input.musts_of(coming_of(line)).keys() == {placement_of(must).pk}


def test_a_must_that_was_discussed_is_none_next_time(
    line: Line, meeting: Meeting, manager: Person, report: Person
) -> None:
    must = make_topic(line, report, must=True)
    meetings.start(meeting=meeting, actor=manager, now=STARTS)
    take_up(meeting, must, manager, STARTS + MINUTE)
    meetings.go_on(meeting=meeting, to=None, continues=True, actor=manager, now=STARTS + 9 * MINUTE)
    meetings.close(meeting=meeting, actor=manager, now=STARTS + 10 * MINUTE)
    assert placement_of(must).meeting == coming_of(line)
    assert not MustDiscuss.objects.exists()


def test_a_side_that_has_named_another_for_the_next_one_keeps_that(
    line: Line, meeting: Meeting, manager: Person, report: Person
) -> None:
    must = make_topic(line, report, must=True)
    meetings.start(meeting=meeting, actor=manager, now=STARTS)
    following = coming_of(line)
    assert following == meeting
    other = make_topic(line, report, "Who covers the Sunday boats", now=STARTS)
    topics.set_must(placement=placement_of(other), must=True, actor=report, now=STARTS)
    meetings.close(meeting=meeting, actor=manager, now=STARTS + 10 * MINUTE)
    assert planner_input.musts_of(coming_of(line)).keys() == {placement_of(other).pk}
    assert Placement.objects.filter(topic=must, outcome=Placement.Outcome.UNDECIDED).exists()
