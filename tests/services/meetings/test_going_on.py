"""Going on in a meeting under way: from where it is, and once."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Meeting, Placement
from oneonone.services.agenda import placing, topics
from oneonone.services.meetings import meetings
from oneonone.services.refusals import NotNow
from tests.scene import CLOSED, DURING, Brought, make_topic, placement_of


def test_of_two_who_press_at_once_only_one_goes_on(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    read_by_both = under_way_meeting.version
    late = Meeting.objects.get(pk=under_way_meeting.pk)
    sheet = placement_of(brought.sheet)
    meetings.go_on(
        meeting=under_way_meeting, to=sheet, continues=False, actor=manager, now=DURING, version=read_by_both
    )
    with pytest.raises(NotNow):
        meetings.go_on(
            meeting=late,
            to=placement_of(brought.deckhands),
            continues=False,
            actor=report,
            now=DURING + dt.timedelta(seconds=1),
            version=read_by_both,
        )
    under_way_meeting.refresh_from_db()
    sheet.refresh_from_db()
    assert under_way_meeting.current_id == sheet.pk
    assert sheet.outcome == Placement.Outcome.UNDECIDED


def test_a_step_from_a_page_read_before_the_last_one_is_refused(
    under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    with pytest.raises(NotNow):
        meetings.go_on(
            meeting=under_way_meeting,
            to=placement_of(brought.sheet),
            continues=False,
            actor=manager,
            now=DURING,
            version=under_way_meeting.version - 1,
        )


def test_the_running_topic_is_not_taken_up_twice(
    under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    crane = placement_of(brought.crane)
    with pytest.raises(NotNow):
        meetings.go_on(meeting=under_way_meeting, to=crane, continues=False, actor=manager, now=DURING)
    crane.refresh_from_db()
    assert crane.outcome == Placement.Outcome.UNDECIDED


def test_a_topic_of_another_meeting_is_not_taken_up(
    under_way_meeting: Meeting, peer_line: object, manager: Person
) -> None:
    elsewhere = placement_of(make_topic(peer_line, manager, "Roster of the ticket desk"))  # type: ignore[arg-type]
    with pytest.raises(NotNow):
        meetings.go_on(meeting=under_way_meeting, to=elsewhere, continues=False, actor=manager, now=DURING)


def test_a_topic_withdrawn_since_the_page_was_read_is_not_taken_up(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    read = placement_of(brought.sheet)
    topics.withdraw(topic=brought.sheet, actor=report, now=DURING)
    with pytest.raises(NotNow):
        meetings.go_on(meeting=under_way_meeting, to=read, continues=False, actor=manager, now=DURING)
    under_way_meeting.refresh_from_db()
    assert under_way_meeting.current == placement_of(brought.crane)


def test_a_topic_taken_up_since_the_page_was_read_stays_on_the_agenda(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    read = placement_of(brought.sheet)
    meetings.go_on(
        meeting=under_way_meeting, to=placement_of(brought.sheet), continues=False, actor=manager, now=DURING
    )
    with pytest.raises(NotNow):
        placing.leave(placement=read, actor=report, now=DURING)
    read.refresh_from_db()
    assert read.outcome == Placement.Outcome.UNDECIDED


def test_closed_from_a_page_read_before_the_last_step_the_topic_that_runs_counts_as_discussed(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    meetings.go_on(meeting=under_way_meeting, to=None, continues=False, actor=manager, now=DURING)
    read = Meeting.objects.get(pk=under_way_meeting.pk)
    sheet = placement_of(brought.sheet)
    meetings.go_on(meeting=under_way_meeting, to=sheet, continues=False, actor=manager, now=DURING)
    meetings.close(meeting=read, actor=report, now=CLOSED)
    sheet.refresh_from_db()
    assert sheet.outcome == Placement.Outcome.DISCUSSED
