"""The order of a meeting: issued, moved by hand, undone, joined by late topics."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, MustDiscuss, Order, Placement, Proposal, Topic
from oneonone.models.owed import Notice
from oneonone.selectors.agenda import orders, planner_input, planning
from oneonone.services.agenda import issuing, late_topics, order_versions, placement_by_hand, placing, topics
from oneonone.services.meetings import meetings
from oneonone.services.refusals import MustStays, NotNow, OutOfRange
from tests.scene import MADE, STARTS, Brought, TakenOn, coming_of, make_topic, placement_of


def order_of(meeting: Meeting) -> Order:
    latest = orders.latest(meeting)
    assert latest is not None
    return latest


def titles(order: Order) -> list[str]:
    """The topics of an order, first to last."""
    keys = [slot["key"] for slot in order.plan["slots"]]
    names = {str(row.pk): row.topic.title for row in order.meeting.placements.select_related("topic")}
    return [names[key] for key in keys]


def boxes(order: Order) -> dict[str, tuple[int, int]]:
    names = {str(row.pk): row.topic.title for row in order.meeting.placements.select_related("topic")}
    return {names[slot["key"]]: (slot["start"], slot["end"]) for slot in order.plan["slots"]}


def by_title(meeting: Meeting, title: str) -> Topic:
    return Topic.objects.get(line=meeting.line, title=title)


def move(topic: Topic, places: int, actor: Person, now: dt.datetime) -> placement_by_hand.Moved:
    return placement_by_hand.move(placement=placement_of(topic), places=places, actor=actor, now=now)


# --- issued


def test_an_issued_order_boxes_every_topic_between_opening_and_closing(
    issued_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    order = order_of(issued_meeting)
    assert (order.number, order.cause, order.by) == (1, Order.Cause.ISSUED, manager)
    assert (order.opening, order.closing) == (4, 5)
    ends = [minutes for box in boxes(order).values() for minutes in box]
    assert (min(ends), max(ends)) == (4, 45)
    assert set(titles(order)) == {topic.title for topic in vars(brought).values()}
    assert all(slot["reason"]["code"] for slot in order.plan["slots"])


def test_issuing_confirms_the_meeting_and_tells_the_other_side(
    issued_meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    assert (issued_meeting.state, issued_meeting.issued_at, issued_meeting.confirmed_at) == (
        Meeting.State.ISSUED,
        now,
        now,
    )
    told = Notice.objects.filter(kind=Notice.Kind.ISSUED, meeting=issued_meeting)
    assert [notice.person for notice in told] == [report]


def test_an_order_that_issues_itself_tells_both(meeting: Meeting, brought: Brought, now: dt.datetime) -> None:
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert Notice.objects.filter(kind=Notice.Kind.ISSUED).count() == 2
    assert order_of(meeting).by is None


def test_an_order_is_issued_once(issued_meeting: Meeting, manager: Person, now: dt.datetime) -> None:
    with pytest.raises(NotNow):
        issuing.issue(meeting=issued_meeting, actor=manager, now=now)


def test_a_meeting_without_topics_can_be_issued(meeting: Meeting, manager: Person, now: dt.datetime) -> None:
    issuing.issue(meeting=meeting, actor=manager, now=now)
    assert order_of(meeting).plan["slots"] == []


def test_what_does_not_fit_is_left_out_with_a_reason_and_kept_for_next_time(
    meeting: Meeting, brought: Brought, line: Line, manager: Person, now: dt.datetime
) -> None:
    big = make_topic(line, manager, "The whole winter plan", minutes=40, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    (out,) = order_of(meeting).plan["left_out"]
    assert out["key"] == str(placement_of(big).pk)
    assert out["reason"]["code"]


def test_musts_that_are_too_long_together_are_said_and_the_rest_is_still_ordered(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    for person, title in ((manager, "The dock"), (report, "The roster")):
        topic = make_topic(line, person, title, minutes=40, must=True)
        wording = topics.Wording(title=title, minutes_wanted=40, minutes_least=30)
        topics.edit(topic=topic, wording=wording, version=topic.version, actor=person, now=now)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    stored = order_of(meeting).plan
    assert stored["infeasible"]
    assert len(stored["slots"]) == 1


def test_the_opening_grows_with_the_commitments_that_are_due(
    closed_meeting: Meeting, next_meeting: Meeting, taken_on: TakenOn, manager: Person
) -> None:
    # Two confirmed ones are due by 4 March; the offered one is not the owner's yet.
    issuing.issue(meeting=next_meeting, actor=manager, now=dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC))
    assert order_of(next_meeting).opening == 8


# --- moved by hand


def test_a_move_by_hand_is_a_new_version_that_keeps_the_order_chosen(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    before = titles(order_of(issued_meeting))
    moved = move(by_title(issued_meeting, before[0]), +2, report, now)
    expected = [before[1], before[2], before[0], *before[3:]]
    assert titles(moved.order) == expected
    assert (moved.order.number, moved.order.cause, moved.order.by) == (2, Order.Cause.MOVED, report)
    assert moved.pushed_out == ()


def test_a_move_past_either_end_stops_there(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    assert titles(move(brought.crane, +99, report, now).order)[-1] == brought.crane.title
    assert titles(move(brought.crane, -99, report, now).order)[0] == brought.crane.title


def test_a_planned_agenda_is_moved_too_and_the_issue_keeps_the_hand(
    meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    moved = move(brought.licence, -99, report, now)
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert titles(order_of(meeting)) == titles(moved.order)
    assert titles(order_of(meeting))[0] == brought.licence.title


def test_a_topic_added_after_a_move_leaves_the_chosen_order_as_it_was(
    meeting: Meeting, brought: Brought, line: Line, report: Person, manager: Person, now: dt.datetime
) -> None:
    chosen = titles(move(brought.licence, -99, report, now).order)
    make_topic(line, manager, "Paint for the landing stage", now=now, minutes=2)
    issuing.issue(meeting=meeting, actor=None, now=now)
    kept = [title for title in titles(order_of(meeting)) if title in chosen]
    assert kept == [title for title in chosen if title in kept]


def test_either_side_undoes_a_move_and_the_order_before_is_back(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    before = order_of(issued_meeting).plan
    move(brought.crane, +2, report, now)
    undone = order_versions.undo(meeting=issued_meeting, actor=manager, now=now)
    assert (undone.number, undone.cause, undone.by) == (3, Order.Cause.UNDONE, manager)
    assert undone.plan == before


def test_a_move_is_undone_once(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    move(brought.crane, +1, report, now)
    order_versions.undo(meeting=issued_meeting, actor=report, now=now)
    with pytest.raises(NotNow):
        order_versions.undo(meeting=issued_meeting, actor=report, now=now)


def test_an_order_nobody_has_moved_is_not_undone(
    issued_meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        order_versions.undo(meeting=issued_meeting, actor=report, now=now)


def test_undoing_the_second_move_keeps_the_first_when_the_order_is_issued(
    meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    first = move(brought.licence, -99, report, now)
    move(brought.deckhands, -99, report, now)
    order_versions.undo(meeting=meeting, actor=report, now=now)
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert titles(order_of(meeting)) == titles(first.order)


def test_undoing_the_only_move_gives_the_order_back_to_the_planner(
    meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    planned = list(planning.standing(meeting).plan.keys)
    move(brought.licence, -99, report, now)
    order_versions.undo(meeting=meeting, actor=report, now=now)
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert [slot["key"] for slot in order_of(meeting).plan["slots"]] == planned


def test_a_move_past_what_a_topic_must_come_after_is_refused_in_words(
    meeting: Meeting, line: Line, manager: Person, now: dt.datetime
) -> None:
    first = make_topic(line, manager, "What the harbour says")
    second = topics.add(
        line=line,
        wording=topics.Wording(title="What we answer"),
        actor=manager,
        now=MADE,
        after=[first],
    )
    issuing.issue(meeting=meeting, actor=manager, now=now)
    with pytest.raises(OutOfRange) as refusal:
        move(second, -1, manager, now)
    assert refusal.value.field == "places"
    assert titles(order_of(meeting)) == [first.title, second.title]


def test_a_move_that_pushes_out_the_other_sides_must_is_refused(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    must = make_topic(line, report, "The roster for the holidays", minutes=20, must=True)
    make_topic(line, manager, "The dock in spring", minutes=20)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    moved = move(must, +1, manager, now)
    assert must.title in titles(moved.order)


def test_a_topic_that_has_begun_is_not_moved(
    under_way_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        move(brought.crane, +1, report, now)


def test_a_topic_left_out_is_not_moved(
    meeting: Meeting, brought: Brought, line: Line, manager: Person, now: dt.datetime
) -> None:
    big = make_topic(line, manager, "The whole winter plan", minutes=40, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    with pytest.raises(NotNow):
        move(big, -1, manager, now)


# --- late topics


def test_a_late_topic_takes_free_minutes_if_it_moves_nothing(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    make_topic(line, manager, minutes=12)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    before = boxes(order_of(meeting))
    late = make_topic(line, report, "Paint for the landing stage", now=now, minutes=10)
    after = boxes(order_of(meeting))
    assert placement_of(late).is_late
    assert order_of(meeting).cause == Order.Cause.LATE
    assert after == {**before, late.title: (16, 26)}
    assert not Proposal.objects.exists()


def test_a_late_topic_is_trimmed_to_the_minutes_that_are_free(
    issued_meeting: Meeting, brought: Brought, report: Person, line: Line, now: dt.datetime
) -> None:
    topics.withdraw(topic=brought.deckhands, actor=report, now=now)
    before = boxes(order_of(issued_meeting))
    late = make_topic(line, report, "Paint for the landing stage", now=now, minutes=6)
    order = order_of(issued_meeting)
    assert {title: box for title, box in boxes(order).items() if title != late.title} == before
    assert boxes(order)[late.title][1] <= 45


def test_a_late_topic_that_displaces_something_waits_for_the_other_side(
    issued_meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    late = make_topic(line, report, "The whole winter plan", now=now, minutes=35)
    proposal = Proposal.objects.get()
    assert (proposal.kind, proposal.by, proposal.state) == ("late_topic", report, "open")
    assert proposal.placement == placement_of(late)
    assert order_of(issued_meeting).number == 1
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).person == manager


def answered(proposal: Proposal, actor: Person, now: dt.datetime, *, accept: bool) -> Order | None:
    return late_topics.answer_late(proposal=proposal, accept=accept, actor=actor, now=now)


def test_a_yes_makes_room_for_it(
    issued_meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    late = make_topic(line, report, "The whole winter plan", now=now, minutes=41)
    order = answered(Proposal.objects.get(), manager, now, accept=True)
    assert order is not None
    assert late.title in titles(order)
    assert order.plan["left_out"]
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).cancelled_at == now


def test_a_no_leaves_the_order_and_keeps_the_topic_on_the_list(
    issued_meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    late = make_topic(line, report, "The whole winter plan", now=now, minutes=35)
    assert answered(Proposal.objects.get(), manager, now, accept=False) is None
    assert order_of(issued_meeting).number == 1
    assert placement_of(late).outcome == Placement.Outcome.UNDECIDED
    with pytest.raises(NotNow):
        answered(Proposal.objects.get(), manager, now, accept=True)


def test_a_yes_that_would_push_out_a_must_is_refused_and_the_question_stays(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    dock = make_topic(line, manager, "The dock in spring", minutes=40, must=True)
    wording = topics.Wording(title=dock.title, minutes_wanted=40, minutes_least=30)
    topics.edit(topic=dock, wording=wording, version=dock.version, actor=manager, now=now)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    make_topic(line, report, "The whole winter plan", now=now, minutes=41)
    with pytest.raises(MustStays):
        answered(Proposal.objects.get(), manager, now, accept=True)
    assert Proposal.objects.get().state == Proposal.State.OPEN


def test_a_late_topic_near_the_meeting_is_asked_about_at_once(
    issued_meeting: Meeting, line: Line, report: Person
) -> None:
    make_topic(line, report, "The whole winter plan", now=STARTS - dt.timedelta(hours=47), minutes=35)
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).at_once


# --- while the meeting is under way


def test_a_topic_withdrawn_under_way_moves_nothing_that_has_been_before_now(
    under_way_meeting: Meeting, brought: Brought, report: Person, manager: Person
) -> None:
    at = STARTS + dt.timedelta(minutes=12)
    topics.withdraw(topic=brought.licence, actor=report, now=at)
    after = boxes(order_of(under_way_meeting))
    crane = brought.crane.title
    # Taken up at 10:04, for its 12 minutes.
    assert after[crane] == (4, 16)
    assert all(start >= 16 for title, (start, _) in after.items() if title != crane)


def test_what_was_discussed_keeps_its_box_and_the_rest_is_ordered_after_it(
    under_way_meeting: Meeting, brought: Brought, report: Person, manager: Person
) -> None:
    half_past = STARTS + dt.timedelta(minutes=30)
    second = placement_of(brought.sheet)
    meetings.go_on(meeting=under_way_meeting, to=second, continues=False, actor=manager, now=half_past)
    topics.withdraw(topic=brought.licence, actor=report, now=half_past)
    after = boxes(order_of(under_way_meeting))
    assert brought.crane.title in after
    waiting = [title for title in after if title in (brought.sundays.title, brought.deckhands.title)]
    assert all(after[title][0] >= 30 for title in waiting)


def test_a_topic_that_comes_up_under_way_takes_what_is_free_behind_the_others(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    first = make_topic(line, manager, minutes=12)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    meetings.start(meeting=meeting, actor=manager, now=STARTS)
    meetings.go_on(meeting=meeting, to=placement_of(first), continues=False, actor=manager, now=STARTS)
    late = make_topic(line, report, "The gangway", now=STARTS + dt.timedelta(minutes=10), minutes=10)
    assert boxes(order_of(meeting))[late.title] == (16, 26)
    assert not Proposal.objects.exists()


# --- what becomes of topics


def test_a_discussed_topic_is_finished_and_a_continued_one_comes_back(
    under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    at = STARTS + dt.timedelta(minutes=20)
    meetings.go_on(
        meeting=under_way_meeting, to=placement_of(brought.sheet), continues=True, actor=manager, now=at
    )
    meetings.close(meeting=under_way_meeting, actor=manager, now=STARTS + dt.timedelta(minutes=40))
    brought.crane.refresh_from_db()
    brought.sheet.refresh_from_db()
    assert (brought.crane.state, brought.sheet.state) == (Topic.State.OPEN, Topic.State.FINISHED)
    assert placement_of(brought.crane).meeting == coming_of(under_way_meeting.line)
    outcomes = dict(under_way_meeting.placements.values_list("topic__title", "outcome"))
    assert outcomes[brought.crane.title] == Placement.Outcome.CONTINUES
    assert outcomes[brought.licence.title] == Placement.Outcome.UNHEARD


def test_only_being_left_out_of_a_held_meeting_counts_as_unheard(
    line: Line, meeting: Meeting, brought: Brought, manager: Person
) -> None:
    meetings.call_off(meeting=meeting, actor=manager, now=MADE)
    assert planner_input.times_unheard([brought.licence.pk]) == {}


def test_a_topic_unheard_in_a_held_meeting_is_counted(closed_meeting: Meeting, brought: Brought) -> None:
    counted = planner_input.times_unheard([brought.licence.pk, brought.sundays.pk, brought.crane.pk])
    assert counted == {brought.licence.pk: 1, brought.sundays.pk: 1}


def hold(line: Line, manager: Person, topic: Topic | None, *, continues: bool = False) -> Meeting:
    """Hold the coming meeting on time, discussing one topic or none."""
    meeting = coming_of(line)
    meetings.start(meeting=meeting, actor=manager, now=meeting.starts_at)
    if topic is not None:
        placement = placement_of(topic)
        meetings.go_on(meeting=meeting, to=placement, continues=False, actor=manager, now=meeting.starts_at)
        meetings.go_on(meeting=meeting, to=None, continues=continues, actor=manager, now=meeting.starts_at)
    end = meeting.starts_at + dt.timedelta(minutes=30)
    return meetings.close(meeting=meeting, actor=manager, now=end)


def test_a_standing_topic_comes_back_every_second_time(line: Line, manager: Person) -> None:
    topic = make_topic(line, manager, "Safety round", every_nth=2)
    hold(line, manager, topic)
    topic.refresh_from_db()
    assert topic.state == Topic.State.OPEN
    assert coming_of(line).placements.count() == 0
    hold(line, manager, None)
    assert placement_of(topic).meeting == coming_of(line)


def test_a_standing_topic_that_continues_comes_back_the_very_next_time(line: Line, manager: Person) -> None:
    topic = make_topic(line, manager, "Safety round", every_nth=3)
    hold(line, manager, topic, continues=True)
    assert placement_of(topic).meeting == coming_of(line)


def test_a_standing_topic_that_was_not_reached_stays(line: Line, manager: Person) -> None:
    topic = make_topic(line, manager, "Safety round", every_nth=2)
    hold(line, manager, None)
    assert placement_of(topic).meeting == coming_of(line)


def test_gathering_twice_changes_nothing(line: Line, brought: Brought, now: dt.datetime) -> None:
    before = set(Placement.objects.values_list("pk", "meeting", "outcome"))
    assert placing.gather(line=line, now=now) == 0
    assert set(Placement.objects.values_list("pk", "meeting", "outcome")) == before


def test_topics_move_to_an_extra_meeting_that_comes_first_and_keep_their_marks(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    topics.set_must(placement=placement_of(brought.crane), must=True, actor=manager, now=now)
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    assert {placement_of(topic).meeting_id for topic in vars(brought).values()} == {extra.pk}
    assert MustDiscuss.objects.get().meeting == extra
    assert [row.topic for row in planner_input.undecided(meeting)] == []


def test_topics_of_an_issued_order_stay_when_an_earlier_meeting_is_put_in(
    issued_meeting: Meeting, line: Line, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    meetings.extra(line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now)
    assert {placement_of(topic).meeting_id for topic in vars(brought).values()} == {issued_meeting.pk}


def test_topics_of_an_extra_meeting_that_is_called_off_are_back_on_the_regular_one(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    meetings.call_off(meeting=extra, actor=manager, now=now)
    assert {placement_of(topic).meeting_id for topic in vars(brought).values()} == {meeting.pk}
