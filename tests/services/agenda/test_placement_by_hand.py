"""Topics placed by hand: at a minute, before another one, brought in; and how that is taken back."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Notice, Order, Placement, Proposal, Topic
from oneonone.selectors.agenda import orders, planning
from oneonone.services.agenda import (
    importance,
    issuing,
    late_topics,
    order_versions,
    placement_by_hand,
    topics,
)
from oneonone.services.meetings import meetings
from oneonone.services.refusals import MustStays, NoRoom, NotNow, OutOfRange
from tests.scene import STARTS, Brought, make_topic, placement_of


def latest(meeting: Meeting) -> Order:
    order = orders.latest(meeting)
    assert order is not None
    return order


def boxes(order: Order) -> dict[str, tuple[int, int]]:
    names = {str(row.pk): row.topic.title for row in order.meeting.placements.select_related("topic")}
    return {names[slot["key"]]: (slot["start"], slot["end"]) for slot in order.plan["slots"]}


def begin_at(topic: Topic, minute: int | None, actor: Person, now: dt.datetime) -> placement_by_hand.Moved:
    return placement_by_hand.begin_at(placement=placement_of(topic), minute=minute, actor=actor, now=now)


def stiff(line: Line, actor: Person, title: str, minutes: int, **more: object) -> Topic:
    """A topic that is useful at its full minutes only."""
    wording = topics.Wording(title=title, minutes_wanted=minutes, minutes_least=minutes)
    made = dt.datetime(2026, 9, 7, 9, 0, tzinfo=dt.UTC)
    return topics.add(line=line, wording=wording, actor=actor, now=made, **more)  # type: ignore[arg-type]


# --- at a minute


def test_a_topic_begins_at_the_minute_that_was_set_and_keeps_it_when_another_is_moved(
    issued_meeting: Meeting, brought: Brought, report: Person, manager: Person, now: dt.datetime
) -> None:
    moved = begin_at(brought.sheet, 20, report, now)
    assert boxes(moved.order)[brought.sheet.title][0] == 20
    assert placement_of(brought.sheet).pinned_minute == 20
    others = [title for title in boxes(moved.order) if title != brought.sheet.title]
    last = Topic.objects.get(title=others[-1])
    again = placement_by_hand.move(placement=placement_of(last), places=-99, actor=manager, now=now)
    assert boxes(again.order)[brought.sheet.title][0] == 20


def test_a_start_that_was_set_before_issue_is_kept_when_the_order_is_issued(
    meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    begin_at(brought.sheet, 20, report, now)
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert boxes(latest(meeting))[brought.sheet.title][0] == 20


def test_a_start_is_given_up_again_and_the_topic_stays_in(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    begin_at(brought.sheet, 20, report, now)
    freed = begin_at(brought.sheet, None, report, now)
    placement = placement_of(brought.sheet)
    assert (placement.pinned_minute, placement.is_in_by_hand) == (None, False)
    assert brought.sheet.title in boxes(freed.order)
    with pytest.raises(NotNow):
        begin_at(brought.sheet, None, report, now)


def test_moving_a_topic_gives_up_the_start_that_was_set_for_it(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    begin_at(brought.sheet, 20, report, now)
    moved = placement_by_hand.move(placement=placement_of(brought.sheet), places=-99, actor=report, now=now)
    assert boxes(moved.order)[brought.sheet.title][0] == 4
    assert placement_of(brought.sheet).pinned_minute is None


@pytest.mark.parametrize("minute", [0, 3, 45, 300])
def test_a_start_in_the_opening_or_the_reading_back_is_refused(
    minute: int, issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(OutOfRange) as refusal:
        begin_at(brought.sheet, minute, report, now)
    assert refusal.value.field == "minute"
    assert placement_of(brought.sheet).pinned_minute is None


def test_two_topics_cannot_be_set_to_the_same_minutes_and_the_first_stays(
    issued_meeting: Meeting, brought: Brought, report: Person, manager: Person, now: dt.datetime
) -> None:
    begin_at(brought.sheet, 20, report, now)
    with pytest.raises(OutOfRange):
        begin_at(brought.crane, 22, manager, now)
    assert placement_of(brought.crane).pinned_minute is None
    assert boxes(latest(issued_meeting))[brought.sheet.title][0] == 20


def test_a_start_that_leaves_no_room_for_a_must_discuss_topic_is_refused(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    dock = stiff(line, manager, "The dock", 10)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    with pytest.raises(OutOfRange):
        begin_at(dock, 20, manager, now)
    assert boxes(begin_at(dock, 34, manager, now).order)[dock.title] == (34, 44)


def test_a_start_pushes_out_what_no_longer_fits_before_or_after_it(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 25)
    dock = stiff(line, manager, "The dock", 10)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    moved = begin_at(dock, 20, manager, now)
    assert [row.topic for row in moved.pushed_out] == [roster]


def test_undoing_gives_back_the_start_that_was_set_before_and_no_other(
    issued_meeting: Meeting, brought: Brought, report: Person, manager: Person, now: dt.datetime
) -> None:
    begin_at(brought.sheet, 20, report, now)
    begin_at(brought.sheet, 30, report, now)
    order_versions.undo(meeting=issued_meeting, actor=manager, now=now)
    assert placement_of(brought.sheet).pinned_minute == 20
    assert boxes(latest(issued_meeting))[brought.sheet.title][0] == 20


def test_undoing_the_first_start_leaves_none(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    before = boxes(latest(issued_meeting))
    begin_at(brought.sheet, 20, report, now)
    order_versions.undo(meeting=issued_meeting, actor=report, now=now)
    placement = placement_of(brought.sheet)
    assert (placement.pinned_minute, placement.is_in_by_hand) == (None, False)
    assert boxes(latest(issued_meeting)) == before


# --- to a place


def test_a_topic_moves_to_right_before_another_one_or_to_the_end(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    first, *_between, last = boxes(latest(issued_meeting))
    mover = placement_of(Topic.objects.get(title=last))
    moved = placement_by_hand.move_before(
        placement=mover,
        following=placement_of(Topic.objects.get(title=first)),
        actor=report,
        now=now,
    )
    assert list(boxes(moved.order))[:2] == [last, first]
    back = placement_by_hand.move_before(placement=mover, following=None, actor=report, now=now)
    assert list(boxes(back.order))[-1] == last


def test_a_topic_does_not_move_before_itself_or_before_one_of_another_meeting(
    issued_meeting: Meeting, brought: Brought, peer_line: Line, manager: Person, now: dt.datetime
) -> None:
    elsewhere = make_topic(peer_line, manager, "Spare radios")
    for following in (placement_of(brought.sheet), placement_of(elsewhere)):
        with pytest.raises(OutOfRange):
            placement_by_hand.move_before(
                placement=placement_of(brought.sheet), following=following, actor=manager, now=now
            )


# --- brought in


def test_before_issue_the_hand_brings_a_topic_in_and_the_issue_keeps_it(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    assert planning.standing(meeting).plan.keys == (str(placement_of(roster).pk),)
    assert late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now) is None
    assert list(boxes(latest(meeting))) == ["Paint"]
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert list(boxes(latest(meeting))) == ["Paint"]


def test_what_was_brought_in_is_undone_by_either_side(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    order_versions.undo(meeting=meeting, actor=report, now=now)
    assert not placement_of(paint).is_in_by_hand
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert list(boxes(latest(meeting))) == ["The roster"]


def test_nobody_brings_a_topic_in_over_the_other_sides_must_discuss(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    paint = stiff(line, manager, "Paint", 25)
    with pytest.raises(MustStays):
        late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    assert not placement_of(paint).is_in_by_hand


def test_ones_own_marks_and_hand_leave_no_room_either_and_that_is_said(
    meeting: Meeting, line: Line, manager: Person, now: dt.datetime
) -> None:
    stiff(line, manager, "The roster", 25, must=True)
    paint = stiff(line, manager, "Paint", 25)
    with pytest.raises(NoRoom):
        late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)


def test_a_topic_in_by_hand_yields_to_a_must_discuss_topic_that_comes_later(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    topics.set_must(placement=placement_of(roster), must=True, actor=report, now=now)
    made = planning.standing(meeting).plan
    assert made.infeasible is None
    assert made.keys == (str(placement_of(roster).pk),)


def test_after_issue_what_displaces_something_waits_for_the_other_sides_yes(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    leads_to = late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    assert leads_to is not None
    assert leads_to.keys == (str(placement_of(paint).pk),)
    assert list(boxes(latest(meeting))) == ["The roster"]
    proposal = Proposal.objects.get()
    assert (proposal.by, proposal.placement) == (manager, placement_of(paint))
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).person == report
    late_topics.answer_late(proposal=proposal, accept=True, actor=report, now=now)
    assert list(boxes(latest(meeting))) == ["Paint"]
    # What both have agreed on stays when something else changes.
    make_topic(line, report, "Gate", minutes=5, now=now)
    assert "Paint" in boxes(latest(meeting))


def test_a_no_can_be_asked_about_again_and_a_later_yes_brings_it_in_for_good(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    for accept in (False, True):
        late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
        asked = Proposal.objects.get(state=Proposal.State.OPEN)
        late_topics.answer_late(proposal=asked, accept=accept, actor=report, now=now)
    assert list(boxes(latest(meeting))) == ["Paint"]
    topics.withdraw(topic=roster, actor=report, now=now)
    assert list(boxes(latest(meeting))) == ["Paint"]


def test_bringing_in_what_the_other_side_asked_for_is_a_yes(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    assert late_topics.bring_in(placement=placement_of(paint), actor=report, now=now) is None
    assert Proposal.objects.get().state == Proposal.State.ACCEPTED
    assert list(boxes(latest(meeting))) == ["Paint"]


def test_after_issue_a_topic_that_displaces_nothing_comes_in_at_once(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    wording = topics.Wording(title="The roster", minutes_wanted=10, minutes_least=10)
    topics.edit(topic=roster, wording=wording, version=roster.version, actor=report, now=now)
    if "Paint" not in boxes(latest(meeting)):
        late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    assert set(boxes(latest(meeting))) == {"The roster", "Paint"}
    assert not Proposal.objects.exists()


def test_a_topic_is_brought_in_at_a_start_in_one_act_and_one_undo_takes_both_back(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    stiff(line, report, "The dock", 10)
    paint = stiff(line, manager, "Paint", 10, importance="if_time")
    placement = placement_of(paint)
    late_topics.bring_in(placement=placement, minute=15, actor=manager, now=now)
    assert boxes(latest(meeting))["Paint"][0] == 15
    assert (placement_of(paint).pinned_minute, placement_of(paint).is_in_by_hand) == (15, True)
    issuing.issue(meeting=meeting, actor=None, now=now)
    assert boxes(latest(meeting))["Paint"][0] == 15


def test_undoing_a_topic_brought_in_at_a_start_gives_up_the_place_and_the_start(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    stiff(line, report, "The dock", 10)
    paint = stiff(line, manager, "Paint", 10, importance="if_time")
    late_topics.bring_in(placement=placement_of(paint), minute=15, actor=manager, now=now)
    order_versions.undo(meeting=meeting, actor=report, now=now)
    assert (placement_of(paint).pinned_minute, placement_of(paint).is_in_by_hand) == (None, False)
    assert set(boxes(latest(meeting))) == {"The roster", "The dock"}


def test_a_place_by_hand_is_left_to_the_planner_again_whatever_was_moved_since(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    for title, minutes in (("The roster", 25), ("The dock", 10)):
        stiff(line, report, title, minutes)
    paint = stiff(line, manager, "Paint", 10, importance="if_time")
    late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)
    placement_by_hand.move(placement=placement_of(paint), places=-1, actor=manager, now=now)
    freed = begin_at(paint, None, report, now)
    assert not placement_of(paint).is_in_by_hand
    assert set(boxes(freed.order)) == {"The roster", "The dock"}
    with pytest.raises(NotNow):
        begin_at(paint, None, report, now)
    order_versions.undo(meeting=meeting, actor=manager, now=now)
    assert placement_of(paint).is_in_by_hand
    assert "Paint" in boxes(latest(meeting))


@pytest.mark.parametrize("minute", [-1, 0, 3, 45, 50, 400])
def test_a_topic_is_not_brought_in_at_a_start_outside_the_minutes_for_topics(
    minute: int, meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    with pytest.raises(OutOfRange) as refused:
        late_topics.bring_in(placement=placement_of(paint), minute=minute, actor=manager, now=now)
    assert refused.value.field == "minute"
    assert not placement_of(paint).is_in_by_hand


def test_a_topic_is_not_brought_in_at_a_start_that_another_one_has(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 20)
    placement_by_hand.begin_at(placement=placement_of(roster), minute=8, actor=report, now=now)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    with pytest.raises(OutOfRange) as refused:
        late_topics.bring_in(placement=placement_of(paint), minute=10, actor=manager, now=now)
    assert refused.value.field == "minute"
    assert placement_of(roster).pinned_minute == 8
    assert placement_of(paint).pinned_minute is None


def test_after_issue_the_start_waits_with_the_place_and_a_yes_gives_both(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    leads_to = late_topics.bring_in(placement=placement_of(paint), minute=12, actor=manager, now=now)
    assert leads_to is not None
    assert placement_of(paint).pinned_minute is None
    # Asked again with another start, the last one counts.
    late_topics.bring_in(placement=placement_of(paint), minute=10, actor=manager, now=now)
    proposal = Proposal.objects.get()
    assert proposal.start_minute == 10
    late_topics.answer_late(proposal=proposal, accept=True, actor=report, now=now)
    assert boxes(latest(meeting))["Paint"] == (10, 30)
    assert placement_of(paint).pinned_minute == 10


def test_a_yes_to_a_topic_asked_for_is_not_a_yes_to_another_start(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    late_topics.bring_in(placement=placement_of(paint), minute=10, actor=manager, now=now)
    with pytest.raises(OutOfRange):
        late_topics.bring_in(placement=placement_of(paint), minute=11, actor=report, now=now)
    assert Proposal.objects.get().state == Proposal.State.OPEN
    late_topics.bring_in(placement=placement_of(paint), actor=report, now=now)
    assert boxes(latest(meeting))["Paint"][0] == 10


def test_a_topic_that_has_a_place_is_not_brought_in(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        late_topics.bring_in(placement=placement_of(brought.sheet), actor=report, now=now)


# --- must-discuss, minutes and importance after issue


def test_a_mark_on_a_topic_that_was_left_out_asks_for_its_place(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    leads_to = topics.set_must(placement=placement_of(paint), must=True, actor=manager, now=now)
    assert leads_to is not None
    assert list(boxes(latest(meeting))) == ["The roster"]
    # Another change does not bring it in by the way while the question is open.
    make_topic(line, report, "Gate", minutes=5, now=now)
    assert "Paint" not in boxes(latest(meeting))
    assert Proposal.objects.get(placement=placement_of(paint)).state == Proposal.State.OPEN


def test_a_mark_on_a_topic_that_has_its_place_changes_minutes_and_no_place(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    # 41 minutes. First the crane keeps 10 of 12; in turn 4 of 5, 8 of 10, 4 of 5, 8 of 10. Of the 7 left the
    # crane takes 2; of 5 more, those of more worth (deckhands, licence) first, the sheet has one of its two.
    before = boxes(latest(issued_meeting))
    assert {title: end - start for title, (start, end) in before.items()} == {
        brought.crane.title: 12,
        brought.deckhands.title: 5,
        brought.sundays.title: 5,
        brought.licence.title: 10,
        brought.sheet.title: 9,
    }
    assert topics.set_must(placement=placement_of(brought.sheet), must=True, actor=report, now=now) is None
    # Now the sheet takes 2 of the 7 with the crane, and of the 3 left the licence has one of its two.
    after = boxes(latest(issued_meeting))
    assert list(after) == list(before)
    assert {title: end - start for title, (start, end) in after.items()} == {
        brought.crane.title: 12,
        brought.deckhands.title: 5,
        brought.sundays.title: 5,
        brought.licence.title: 9,
        brought.sheet.title: 10,
    }


def test_a_mark_that_the_other_sides_mark_leaves_no_room_for_is_refused(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    paint = stiff(line, manager, "Paint", 25)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    with pytest.raises(MustStays):
        topics.set_must(placement=placement_of(paint), must=True, actor=manager, now=now)
    assert not Placement.objects.filter(musts__side="manager").exists()


def test_minutes_raised_after_issue_push_out_no_other_topic(
    issued_meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    before = set(boxes(latest(issued_meeting)))
    wording = topics.Wording(title=brought.sundays.title, minutes_wanted=30, minutes_least=20)
    topics.edit(
        topic=brought.sundays, wording=wording, version=brought.sundays.version, actor=manager, now=now
    )
    assert before - {brought.sundays.title} <= set(boxes(latest(issued_meeting)))


def test_importance_after_issue_orders_anew_but_pushes_nothing_out(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    before = boxes(latest(issued_meeting))
    for actor in (manager, report):
        importance.set_importance(topic=brought.crane, level="if_time", actor=actor, now=now)
    assert set(boxes(latest(issued_meeting))) == set(before)


def test_minutes_that_leave_no_room_for_the_other_sides_must_are_refused_after_issue(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    dock = stiff(line, manager, "The dock", 10, must=True)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    wording = topics.Wording(title="The dock", minutes_wanted=20, minutes_least=20)
    with pytest.raises(MustStays):
        topics.edit(topic=dock, wording=wording, version=dock.version, actor=manager, now=now)
    assert set(boxes(latest(meeting))) == {"The roster", "The dock"}


# --- while the meeting is under way


def test_under_way_a_start_is_set_ahead_and_never_before_now(
    under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    at = STARTS + dt.timedelta(minutes=12)
    with pytest.raises(OutOfRange):
        begin_at(brought.sheet, 8, report, at)
    assert boxes(begin_at(brought.sheet, 30, report, at).order)[brought.sheet.title][0] == 30


def test_a_start_is_given_up_once_the_topic_is_discussed(
    under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    at = STARTS + dt.timedelta(minutes=12)
    begin_at(brought.sheet, 30, report, at)
    placement = placement_of(brought.sheet)
    later = STARTS + dt.timedelta(minutes=16)
    meetings.go_on(meeting=under_way_meeting, to=placement, continues=False, actor=report, now=later)
    with pytest.raises(NotNow):
        begin_at(brought.sheet, 40, report, later)


def test_a_topic_without_a_place_that_is_parked_leaves_the_last_move_to_be_undone(
    issued_meeting: Meeting, brought: Brought, line: Line, report: Person, now: dt.datetime
) -> None:
    late = make_topic(line, report, "Paint", minutes=20, now=now)
    placement_by_hand.move(placement=placement_of(brought.crane), places=1, actor=report, now=now)
    topics.park(topic=late, actor=report, now=now)
    assert latest(issued_meeting).cause == Order.Cause.MOVED
    order_versions.undo(meeting=issued_meeting, actor=report, now=now)
