"""At most two topics of an agenda are *first* to a side; what comes back as a third becomes *in turn*."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Importance, Line, Meeting, Topic
from oneonone.services.agenda import importance, topics
from oneonone.services.meetings import meetings
from oneonone.services.refusals import TwoFirst
from tests.scene import MADE, coming_of, make_topic, placement_of


def said(topic: Topic) -> list[tuple[str, str, bool]]:
    rows = Importance.objects.filter(topic=topic).order_by("side")
    return list(rows.values_list("side", "level", "was_first"))


def test_a_third_first_of_a_side_is_refused_and_the_two_are_named(line: Line, manager: Person) -> None:
    make_topic(line, manager, "Ropes", importance="first")
    make_topic(line, manager, "Fenders", importance="first", now=MADE + dt.timedelta(minutes=1))
    third = make_topic(line, manager, "Paint")
    with pytest.raises(TwoFirst) as refusal:
        importance.set_importance(topic=third, level="first", actor=manager, now=MADE)
    assert refusal.value.field == "importance"
    assert "“Ropes” and “Fenders”" in str(refusal.value)
    assert said(third) == []


def test_a_new_topic_that_would_be_a_third_is_refused_whole(line: Line, manager: Person) -> None:
    for title in ("Ropes", "Fenders"):
        make_topic(line, manager, title, importance="first")
    with pytest.raises(TwoFirst):
        make_topic(line, manager, "Paint", importance="first")
    assert not line.topics.filter(title="Paint").exists()


def test_each_side_has_two_of_its_own_whoever_brought_the_topic(
    line: Line, manager: Person, report: Person
) -> None:
    both = [make_topic(line, manager, title, importance="first") for title in ("Ropes", "Fenders")]
    for topic in both:
        importance.set_importance(topic=topic, level="first", actor=report, now=MADE)
    theirs = make_topic(line, report, "Paint")
    for actor in (manager, report):
        with pytest.raises(TwoFirst):
            importance.set_importance(topic=theirs, level="first", actor=actor, now=MADE)
    # A word that was said already is said again.
    importance.set_importance(topic=both[0], level="first", actor=manager, now=MADE)


def test_a_topic_that_must_be_discussed_is_beside_the_two(line: Line, manager: Person) -> None:
    for title in ("Ropes", "Fenders"):
        make_topic(line, manager, title, importance="first")
    third = make_topic(line, manager, "Paint", must=True)
    assert placement_of(third).musts.count() == 1


def test_one_that_is_no_longer_first_makes_room(line: Line, manager: Person) -> None:
    ropes, _fenders = (make_topic(line, manager, title, importance="first") for title in ("Ropes", "Fenders"))
    third = make_topic(line, manager, "Paint")
    importance.set_importance(topic=ropes, level="in_turn", actor=manager, now=MADE)
    importance.set_importance(topic=third, level="first", actor=manager, now=MADE)
    assert said(third) == [("manager", "first", False)]


def test_parked_topics_do_not_count_and_one_that_returns_as_a_third_becomes_in_turn(
    line: Line, manager: Person, report: Person
) -> None:
    ropes = make_topic(line, manager, "Ropes", importance="first")
    importance.set_importance(topic=ropes, level="first", actor=report, now=MADE)
    topics.park(topic=ropes, actor=manager, now=MADE)
    for title in ("Fenders", "Paint"):
        make_topic(line, manager, title, importance="first")
    ropes.refresh_from_db()
    topics.unpark(topic=ropes, actor=manager, now=MADE)
    # The other side has called no two others first: their word stays.
    assert said(ropes) == [("manager", "in_turn", True), ("report", "first", False)]
    # Said anew, nothing is left of what it was.
    importance.set_importance(topic=ropes, level="if_time", actor=manager, now=MADE)
    assert said(ropes) == [("manager", "if_time", False), ("report", "first", False)]


def test_first_said_of_a_parked_topic_counts_when_it_returns(line: Line, manager: Person) -> None:
    parked = make_topic(line, manager, "Ropes")
    topics.park(topic=parked, actor=manager, now=MADE)
    for title in ("Fenders", "Paint"):
        make_topic(line, manager, title, importance="first")
    parked.refresh_from_db()
    importance.set_importance(topic=parked, level="first", actor=manager, now=MADE)
    topics.unpark(topic=parked, actor=manager, now=MADE)
    assert said(parked) == [("manager", "in_turn", True)]


def test_a_topic_of_a_later_meeting_that_comes_along_as_a_third_becomes_in_turn(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    extra = meetings.extra(
        line=line, day=dt.date(2026, 11, 27), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    assert coming_of(line) == extra
    for title in ("Fenders", "Paint"):
        make_topic(line, manager, title, importance="first", now=now)
    ropes = make_topic(line, manager, "Ropes", now=now)
    topics.park(topic=ropes, actor=manager, now=now)
    ropes.refresh_from_db()
    importance.set_importance(topic=ropes, level="first", actor=manager, now=now)
    topics.unpark(topic=ropes, actor=manager, now=now)
    meetings.call_off(meeting=extra, actor=manager, now=now)
    firsts = Importance.objects.filter(
        level="first", topic__placements__meeting=meeting, topic__placements__outcome="undecided"
    )
    assert firsts.count() == 2
    assert said(ropes) == [("manager", "in_turn", True)]
