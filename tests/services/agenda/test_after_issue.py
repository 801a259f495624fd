"""After issue nothing changes places automatically; what displaces something is asked for."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Notice, Order, Proposal, Topic
from oneonone.selectors.agenda import orders, planning
from oneonone.services.agenda import (
    importance,
    issuing,
    late_topics,
    order_versions,
    placement_by_hand,
    topics,
)
from oneonone.services.refusals import InOrder, NotNow
from tests.scene import Brought, make_topic, placement_of
from tests.services.agenda.test_placement_by_hand import boxes, latest, stiff


def ask_minutes(topic: Topic, wanted: int, least: int, actor: Person, now: dt.datetime) -> object:
    topic.refresh_from_db()
    wording = topics.Wording(title=topic.title, kind=topic.kind, minutes_wanted=wanted, minutes_least=least)
    return topics.edit(topic=topic, wording=wording, version=topic.version, actor=actor, now=now)


def test_importance_said_after_issue_changes_no_place(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    before = list(boxes(latest(issued_meeting)))
    last = Topic.objects.get(title=before[-1])
    importance.set_importance(topic=last, level="first", actor=report, now=now)
    assert list(boxes(latest(issued_meeting))) == before


def test_importance_said_after_issue_pushes_nothing_out(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    # 41 minutes: the roster (25) and the dock (12) are in, the paint (20) is not.
    for title, minutes in (("The roster", 25), ("The dock", 12)):
        stiff(line, report, title, minutes)
    paint = stiff(line, manager, "Paint", 20, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)
    before = boxes(latest(meeting))
    importance.set_importance(topic=paint, level="first", actor=manager, now=now)
    assert boxes(latest(meeting)) == before
    # Asked for, it waits for the other side.
    assert late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now) is not None


def test_more_minutes_that_push_out_another_topic_wait_for_a_yes(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 20)
    dock = stiff(line, manager, "The dock", 20)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    # Useful with 20 of 25, it takes the one minute that is free.
    assert ask_minutes(roster, 25, 20, report, now) is None
    before = boxes(latest(meeting))
    assert {title: end - start for title, (start, end) in before.items()} == {
        "The roster": 21,
        "The dock": 20,
    }
    importance.set_importance(topic=roster, level="first", actor=report, now=now)
    leads_to = ask_minutes(roster, 25, 25, report, now)
    assert leads_to is not None
    assert boxes(latest(meeting)) == before
    proposal = Proposal.objects.get()
    assert (proposal.minutes, proposal.by) == ((25, 25), report)
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).person == manager
    # Until then another change goes by the minutes it has.
    topics.set_must(placement=placement_of(dock), must=False, actor=manager, now=now)
    assert list(boxes(latest(meeting))) == list(before)
    late_topics.answer_late(proposal=proposal, accept=True, actor=manager, now=now)
    assert list(boxes(latest(meeting))) == ["The roster"]
    assert placement_of(roster).minutes_wanted == 25


def test_a_no_leaves_the_minutes_as_they_were(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster = stiff(line, report, "The roster", 20, importance="first")
    stiff(line, manager, "The dock", 20)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    before = boxes(latest(meeting))
    assert ask_minutes(roster, 30, 30, report, now) is not None
    late_topics.answer_late(proposal=Proposal.objects.get(), accept=False, actor=manager, now=now)
    assert boxes(latest(meeting)) == before
    assert placement_of(roster).minutes_wanted == 20
    # A topic that was refused more minutes keeps its place in what follows.
    make_topic(line, manager, "Gate", minutes=1, now=now)
    assert "The roster" in boxes(latest(meeting))


def test_a_topic_that_leaves_lets_no_other_lose_its_place(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    # 20 minutes beside the roster. At their keeps the gate (2, worth 6) and the ropes (8, worth 4) come
    # before the crew (20, worth 6), which fits with its 10. Without the gate the steps alone would let the
    # crew in at 20, and leave the ropes out.
    stiff(line, manager, "The roster", 21, must=True)
    gate = topics.Wording(title="Gate", kind=Topic.Kind.OBSTACLE, minutes_wanted=2, minutes_least=2)
    ropes = topics.Wording(title="Ropes", minutes_wanted=10, minutes_least=8)
    crew = topics.Wording(title="Crew", kind=Topic.Kind.OBSTACLE, minutes_wanted=25, minutes_least=10)
    made = [
        topics.add(line=line, wording=one, actor=report, now=meeting.created_at)
        for one in (gate, ropes, crew)
    ]
    issuing.issue(meeting=meeting, actor=manager, now=now)
    assert set(boxes(latest(meeting))) == {"The roster", "Gate", "Ropes", "Crew"}
    topics.withdraw(topic=made[0], actor=report, now=now)
    order = latest(meeting)
    assert set(boxes(order)) == {"The roster", "Ropes", "Crew"}
    codes = {slot["key"]: slot["reason"]["code"] for slot in order.plan["slots"]}
    assert codes[str(placement_of(made[1]).pk)] == "in_turn"
    alone = planning.planned(planning.input_after(meeting, order))
    assert alone.slot(str(placement_of(made[1]).pk)) is None


# --- put in order anew


def test_put_in_order_anew_gives_the_order_of_the_rule_and_can_be_undone(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    by_rule = boxes(latest(issued_meeting))
    last = list(by_rule)[-1]
    placement_by_hand.move(
        placement=placement_of(Topic.objects.get(title=last)), places=-9, actor=report, now=now
    )
    moved = boxes(latest(issued_meeting))
    assert next(iter(moved)) == last
    order = issuing.put_in_order_anew(meeting=issued_meeting, actor=manager, now=now)
    assert (order.cause, order.by) == (Order.Cause.REPLANNED, manager)
    assert list(boxes(order)) == list(by_rule)
    order_versions.undo(meeting=issued_meeting, actor=report, now=now)
    assert boxes(latest(issued_meeting)) == moved


def test_before_issue_it_gives_up_what_the_hand_chose(
    meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.crane), places=9, actor=manager, now=now)
    assert orders.of(meeting).kept_order
    issuing.put_in_order_anew(meeting=meeting, actor=manager, now=now)
    assert not orders.of(meeting).kept_order
    order = issuing.issue(meeting=meeting, actor=None, now=now)
    assert next(iter(boxes(order))) == brought.crane.title


def test_an_agreed_start_stays_when_the_rest_is_put_in_order_anew(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    placement_by_hand.begin_at(placement=placement_of(brought.sheet), minute=20, actor=report, now=now)
    placement_by_hand.move(placement=placement_of(brought.crane), places=9, actor=report, now=now)
    order = issuing.put_in_order_anew(meeting=issued_meeting, actor=report, now=now)
    assert boxes(order)[brought.sheet.title][0] == 20


def test_there_is_nothing_to_put_in_order_anew_without_an_order_or_under_way(
    meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        issuing.put_in_order_anew(meeting=meeting, actor=manager, now=now)


def test_where_nothing_would_move_no_version_is_made(
    issued_meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    with pytest.raises(InOrder):
        issuing.put_in_order_anew(meeting=issued_meeting, actor=manager, now=now)
    assert issued_meeting.orders.count() == 1


def test_under_way_nothing_is_put_in_order_anew(under_way_meeting: Meeting, manager: Person) -> None:
    with pytest.raises(NotNow):
        issuing.put_in_order_anew(
            meeting=under_way_meeting,
            actor=manager,
            now=under_way_meeting.starts_at + dt.timedelta(minutes=12),
        )
