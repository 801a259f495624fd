"""What no change of an order does by the way: a topic before what it waits for, a late one without a yes."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Order, Proposal, Topic
from oneonone.models.owed import Notice
from oneonone.selectors.agenda import orders, planning
from oneonone.services.agenda import issuing, late_topics, placement_by_hand, topics
from oneonone.services.refusals import NotAllowed, NotNow
from tests.scene import Brought, make_topic, placement_of


def titles(order: Order | None) -> list[str]:
    assert order is not None
    names = {str(row.pk): row.topic.title for row in order.meeting.placements.select_related("topic")}
    return [names[slot["key"]] for slot in order.plan["slots"]]


def come_after(topic: Topic, earlier: Topic, *, minutes: int, now: dt.datetime) -> None:
    topic.refresh_from_db()
    topics.edit(
        topic=topic,
        wording=topics.Wording(title=topic.title, minutes_wanted=minutes),
        version=topic.version,
        actor=topic.raiser,
        now=now,
        after=[earlier],
    )


def test_an_order_issued_follows_what_is_said_about_it_later(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    survey = make_topic(line, manager, "Survey of the pontoon", importance="first")
    repair = make_topic(line, report, "Repair")
    order = issuing.issue(meeting=meeting, actor=manager, now=now)
    assert titles(order) == ["Survey of the pontoon", "Repair"]
    come_after(survey, repair, minutes=9, now=now)
    assert titles(orders.latest(meeting)) == ["Repair", "Survey of the pontoon"]


def test_an_order_by_hand_is_kept_as_far_as_that_allows(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    survey = make_topic(line, manager, "Survey of the pontoon")
    repair = make_topic(line, report, "Repair")
    paint = make_topic(line, report, "Paint")
    for topic, places in ((paint, -2), (repair, 2)):
        placement_by_hand.move(placement=placement_of(topic), places=places, actor=report, now=now)
    made = planning.standing(meeting).plan
    assert made.keys == tuple(str(placement_of(topic).pk) for topic in (paint, survey, repair))
    come_after(paint, repair, minutes=5, now=now)
    made = planning.standing(meeting).plan
    assert made.keys == tuple(str(placement_of(topic).pk) for topic in (repair, paint, survey))


def test_a_late_topic_that_another_has_to_come_after_waits_instead_of_failing(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    parked = make_topic(line, report, "What the harbour says")
    topics.park(topic=parked, actor=report, now=now)
    topics.add(
        line=line, wording=topics.Wording(title="What we answer"), actor=report, now=now, after=[parked]
    )
    issuing.issue(meeting=meeting, actor=manager, now=now)
    topics.unpark(topic=parked, actor=report, now=now)
    assert titles(orders.latest(meeting)) == ["What we answer"]
    assert Proposal.objects.get().placement == placement_of(parked)


@pytest.mark.parametrize("ended", ["waiting", "declined", "taken back"])
def test_a_late_topic_without_a_yes_is_brought_in_by_no_move_and_no_change(
    ended: str,
    issued_meeting: Meeting,
    line: Line,
    brought: Brought,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    late = make_topic(line, manager, "Radio procedure in fog", minutes=12, now=now)
    if ended == "declined":
        late_topics.answer_late(proposal=Proposal.objects.get(), accept=False, actor=report, now=now)
    if ended == "taken back":
        late_topics.take_back(proposal=Proposal.objects.get(), actor=manager, now=now)
    placement_by_hand.move(placement=placement_of(brought.licence), places=-1, actor=report, now=now)
    assert late.title not in titles(orders.latest(issued_meeting))
    topics.withdraw(topic=brought.deckhands, actor=report, now=now)
    assert late.title not in titles(orders.latest(issued_meeting))


def test_with_a_yes_it_comes_in_and_stays(
    issued_meeting: Meeting,
    line: Line,
    brought: Brought,
    manager: Person,
    report: Person,
    now: dt.datetime,
) -> None:
    late = make_topic(line, manager, "Radio procedure in fog", minutes=12, now=now)
    late_topics.answer_late(proposal=Proposal.objects.get(), accept=True, actor=report, now=now)
    placement_by_hand.move(placement=placement_of(brought.licence), places=-1, actor=report, now=now)
    assert late.title in titles(orders.latest(issued_meeting))


def test_what_was_taken_back_cannot_be_answered_and_can_be_asked_for_again(
    issued_meeting: Meeting, line: Line, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    late = make_topic(line, manager, "Radio procedure in fog", minutes=12, now=now)
    asked = Proposal.objects.get()
    with pytest.raises(NotAllowed):
        late_topics.take_back(proposal=asked, actor=report, now=now)
    late_topics.take_back(proposal=asked, actor=manager, now=now)
    assert not Notice.objects.filter(subject=asked.pk, cancelled_at=None).exists()
    with pytest.raises(NotNow):
        late_topics.answer_late(proposal=asked, accept=True, actor=report, now=now)
    with pytest.raises(NotNow):
        late_topics.take_back(proposal=asked, actor=manager, now=now)
    late_topics.bring_in(placement=placement_of(late), actor=manager, now=now)
    again = Proposal.objects.get(state=Proposal.State.OPEN)
    late_topics.answer_late(proposal=again, accept=True, actor=report, now=now)
    placement_by_hand.move(placement=placement_of(brought.licence), places=-1, actor=report, now=now)
    assert late.title in titles(orders.latest(issued_meeting))
