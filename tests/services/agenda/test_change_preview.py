"""What an act would make of the order is shown before it is taken, by doing it and taking it back."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, Order, Proposal
from oneonone.planner import Plan
from oneonone.services.agenda import (
    change_preview,
    importance,
    issuing,
    late_topics,
    placement_by_hand,
)
from oneonone.services.refusals import MustStays
from tests.scene import Brought, placement_of
from tests.services.agenda.test_placement_by_hand import stiff


def costly(change: change_preview.OrderChange) -> bool:
    return change.costs


def anything(change: change_preview.OrderChange) -> bool:
    return not change.is_none


def test_what_costs_nothing_is_done_at_once(
    issued_meeting: Meeting, brought: Brought, report: Person, now: dt.datetime
) -> None:
    def act() -> None:
        placement_by_hand.move(placement=placement_of(brought.crane), places=1, actor=report, now=now)

    tried = change_preview.attempt(meeting=issued_meeting, act=act, actor=report, ask_about=costly)
    assert tried.kept
    assert tried.order is None
    assert issued_meeting.orders.count() == 2


def test_what_pushes_something_out_is_shown_and_nothing_of_it_stored(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    roster, dock = stiff(line, report, "The roster", 25), stiff(line, manager, "The dock", 10)
    issuing.issue(meeting=meeting, actor=manager, now=now)
    seq = Meeting.objects.get(pk=meeting.pk).seq

    def act() -> None:
        placement_by_hand.begin_at(placement=placement_of(dock), minute=20, actor=manager, now=now)

    tried = change_preview.attempt(meeting=meeting, act=act, actor=manager, ask_about=costly)
    assert not tried.kept
    assert tried.change.difference.pushed_out == (str(placement_of(roster).pk),)
    assert tried.order is not None
    assert [(box.topic.title, box.minute) for box in tried.order.boxes] == [("The dock", 20)]
    assert [kept.topic.title for kept in tried.order.kept] == ["The roster"]
    assert placement_of(dock).pinned_minute is None
    assert (Meeting.objects.get(pk=meeting.pk).seq, meeting.orders.count()) == (seq, 1)

    taken = change_preview.attempt(
        meeting=meeting, act=act, actor=manager, ask_about=costly, taken=tried.change.token
    )
    assert taken.kept
    assert placement_of(dock).pinned_minute == 20


def test_a_yes_to_another_order_than_it_makes_now_is_no_yes(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    dock = stiff(line, manager, "The dock", 10)
    issuing.issue(meeting=meeting, actor=manager, now=now)

    def act() -> None:
        placement_by_hand.begin_at(placement=placement_of(dock), minute=20, actor=manager, now=now)

    first = change_preview.attempt(meeting=meeting, act=act, actor=manager, ask_about=costly)
    stiff(line, report, "Gate", 3)
    late = change_preview.attempt(
        meeting=meeting, act=act, actor=manager, ask_about=costly, taken=first.change.token
    )
    assert not late.kept
    assert late.change.token != first.change.token
    assert placement_of(dock).pinned_minute is None


def test_before_issue_the_standing_order_is_what_is_compared(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")

    def act() -> None:
        importance.set_importance(topic=paint, level="first", actor=manager, now=now)

    tried = change_preview.attempt(meeting=meeting, act=act, actor=manager, ask_about=anything)
    assert not tried.kept
    assert tried.change.difference.brought_in == (str(placement_of(paint).pk),)
    assert Importance.objects.get(topic=paint).level == "if_time"
    assert not Order.objects.exists()


def test_what_would_wait_for_the_other_side_shows_the_order_it_leads_to(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25)
    paint = stiff(line, manager, "Paint", 25, importance="if_time")
    issuing.issue(meeting=meeting, actor=manager, now=now)

    def act() -> Plan | None:
        return late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)

    tried = change_preview.attempt(meeting=meeting, act=act, actor=manager, ask_about=costly)
    assert tried.change.asks
    assert tried.order is not None
    assert [box.topic.title for box in tried.order.boxes] == ["Paint"]
    assert not Proposal.objects.exists()
    taken = change_preview.attempt(
        meeting=meeting, act=act, actor=manager, ask_about=costly, taken=tried.change.token
    )
    assert taken.kept
    assert Proposal.objects.get().placement == placement_of(paint)


def test_a_refusal_is_passed_on_and_leaves_nothing(
    meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    stiff(line, report, "The roster", 25, must=True)
    paint = stiff(line, manager, "Paint", 25)

    def act() -> Plan | None:
        return late_topics.bring_in(placement=placement_of(paint), actor=manager, now=now)

    with pytest.raises(MustStays):
        change_preview.attempt(meeting=meeting, act=act, actor=manager, ask_about=costly)
    assert not placement_of(paint).is_in_by_hand
