"""Whoever proposed something hears the answer, once; both hear that a line is paused."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Notice, Proposal
from oneonone.selectors.notices import notices as selector
from oneonone.services.agenda import late_topics
from oneonone.services.commitments import commitments, handover
from oneonone.services.lines import lines
from oneonone.services.meetings import intervals, time_proposals
from oneonone.services.refusals import NotAllowed
from oneonone.web.notices import notice_wording
from tests.scene import AFTER, DURING, MADE, QUARTERLY, STARTS, TakenOn, make_topic

pytestmark = pytest.mark.django_db
TODAY = MADE.date()
DECEMBER = dt.date(2026, 12, 1)


def told(reader: Person, now: dt.datetime) -> list[str]:
    """What a person is told of answers and pauses, in the words of the page."""
    kinds = ("agreed", "declined", "paused", "resumed")
    shown = selector.unread(reader, now=now)
    return [notice_wording.sentence(view) for view in shown if view.kind in kinds]


@pytest.mark.parametrize(
    ("accept", "words"),
    [
        (True, "Ines Okafor has agreed: your late topic has a place on Thursday 3 December, 10:00."),
        (False, "Ines Okafor has declined: your late topic has no place on Thursday 3 December, 10:00."),
    ],
)
def test_the_answer_to_a_late_topic_is_told_to_who_asked_while_the_meeting_lies_ahead(
    accept: bool, words: str, issued_meeting: Meeting, line: Line, manager: Person, report: Person
) -> None:
    now = STARTS - dt.timedelta(hours=47)
    make_topic(line, report, "The whole winter plan", now=now, minutes=35)
    late_topics.answer_late(proposal=Proposal.objects.get(), accept=accept, actor=manager, now=now)
    assert told(report, now) == [words]
    assert told(manager, now) == []
    assert Notice.objects.get(person=report, kind="agreed" if accept else "declined").at_once
    Meeting.objects.filter(pk=issued_meeting.pk).update(state="called_off")
    assert told(report, now) == []


@pytest.mark.parametrize(
    ("accept", "words"),
    [
        (True, "Tomas Lindqvist has agreed to the interval that you proposed."),
        (False, "Tomas Lindqvist has declined the interval that you proposed."),
    ],
)
def test_the_answer_to_an_interval_is_told_to_who_proposed_it(
    accept: bool, words: str, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    terms = replace(QUARTERLY, every=4)
    asked = intervals.propose(line=line, terms=terms, actor=manager, now=now, today=now.date())
    intervals.answer(proposal=asked, accept=accept, actor=report, now=now, today=now.date())
    assert told(manager, now) == [words]
    assert told(report, now) == []


@pytest.mark.parametrize(
    ("accept", "words"),
    [
        (True, "Ines Okafor has taken over what you offered."),
        (False, "Ines Okafor has not taken over what you offered. It stays yours."),
    ],
)
def test_the_answer_to_an_offer_to_hand_over_is_told_to_who_offered(
    accept: bool, words: str, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    answer = handover.accept if accept else handover.decline
    answer(proposal=offer, actor=manager, now=AFTER)
    assert told(report, AFTER) == [words]


def test_another_time_that_is_agreed_is_told_by_its_new_time_alone(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    asked = time_proposals.propose(
        meeting=meeting, day=dt.date(2026, 12, 4), time=dt.time(11), actor=report, now=now
    )
    time_proposals.answer(proposal=asked, accept=True, actor=manager, now=now)
    assert [view.kind for view in selector.unread(report, now=now)] == ["moved"]


def test_a_time_proposed_in_return_is_not_told_as_a_no_besides(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    for actor, hour in ((report, 11), (manager, 15)):
        time_proposals.propose(
            meeting=meeting, day=dt.date(2026, 12, 4), time=dt.time(hour), actor=actor, now=now
        )
    assert [view.code for view in selector.unread(report, now=now)] == ["proposal time"]


def test_one_taken_back_is_no_answer(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    asked = time_proposals.propose(
        meeting=meeting, day=dt.date(2026, 12, 4), time=dt.time(11), actor=report, now=now
    )
    time_proposals.withdraw(proposal=asked, actor=report, now=now)
    assert told(report, now) == told(manager, now) == []


def test_a_pause_and_its_end_are_told_to_the_other_side(line: Line, manager: Person, report: Person) -> None:
    lines.pause(line=line, first=DECEMBER, last=None, actor=manager, now=MADE, today=TODAY)
    assert told(report, MADE) == ["Your one-on-ones with Ines Okafor are paused from Tuesday 1 December."]
    assert told(manager, MADE) == []
    later = dt.datetime(2026, 12, 14, 9, 0, tzinfo=dt.UTC)
    lines.resume(line=line, actor=manager, now=later, today=later.date())
    assert told(report, later) == ["Your one-on-ones with Ines Okafor are no longer paused."]


def test_an_administrators_pause_is_told_to_both_and_until_it_is_over(
    line: Line, manager: Person, report: Person, administrator: Person
) -> None:
    last = dt.date(2026, 12, 31)
    lines.pause(line=line, first=DECEMBER, last=last, actor=administrator, now=MADE, today=TODAY)
    assert [len(told(person, MADE)) for person in (manager, report)] == [1, 1]
    over = dt.datetime(2027, 1, 1, 9, 0, tzinfo=dt.UTC)
    assert told(report, over) == []


def test_resuming_what_is_not_paused_tells_nothing(line: Line, manager: Person, report: Person) -> None:
    lines.resume(line=line, actor=manager, now=MADE, today=TODAY)
    assert told(report, MADE) == []


def test_nobody_but_the_side_that_was_asked_answers(
    issued_meeting: Meeting,
    line: Line,
    taken_on_before: Proposal,
    manager: Person,
    report: Person,
    peer: Person,
    now: dt.datetime,
) -> None:
    """Whatever it is about, and whichever service is asked: not who proposed it, nor somebody else."""
    make_topic(line, report, "The whole winter plan", now=now, minutes=35)
    late = Proposal.objects.get(kind="late_topic")
    interval = intervals.propose(
        line=line, terms=replace(QUARTERLY, every=4), actor=report, now=now, today=now.date()
    )
    for actor in (report, peer):
        for accept in (True, False):
            with pytest.raises(NotAllowed):
                late_topics.answer_late(proposal=late, accept=accept, actor=actor, now=now)
            with pytest.raises(NotAllowed):
                intervals.answer(proposal=interval, accept=accept, actor=actor, now=now, today=now.date())
            answer = handover.accept if accept else handover.decline
            with pytest.raises(NotAllowed):
                answer(proposal=taken_on_before, actor=actor, now=now)
    assert set(Proposal.objects.values_list("state", flat=True)) == {"open"}


@pytest.fixture
def taken_on_before(line: Line, report: Person, now: dt.datetime) -> Proposal:
    """Something that Tomas took on and asks Ines to take over."""
    one = commitments.take_on(
        line=line,
        owner_side="report",
        action="Paint the bollards",
        how_known="",
        date=dt.date(2027, 1, 14),
        actor=report,
        now=now,
    )
    return handover.offer(commitment=one, actor=report, now=now)
