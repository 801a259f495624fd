"""What a reader is shown of what is owed to them, and what has been overtaken."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Line, Meeting, Notice, Proposal
from oneonone.selectors import notices as selector
from oneonone.selectors.notices import NoticeView
from oneonone.services import (
    claims,
    commitments,
    duedates,
    handover,
    jobs_meetings,
    lines,
    meetings,
    notices,
    record,
)
from tests.cast import queries
from tests.scene import AFTER, DURING, TakenOn, make_line

pytestmark = pytest.mark.django_db


def kinds(reader: Person, now: dt.datetime) -> list[str]:
    return [view.kind for view in selector.unread(reader, now=now)]


def about(meeting: Meeting, kind: str, person: Person, now: dt.datetime, **more: object) -> Notice:
    return notices.owe(
        kind=kind,
        person=person,
        subject=meeting.pk,
        schedule_version=meeting.schedule_version,
        line=meeting.line,
        meeting=meeting,
        now=now,
        **more,  # type: ignore[arg-type]
    )


def test_it_says_who_and_when_and_where_to_act(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    notice = about(meeting, "invite", manager, now)
    assert selector.unread(manager, now=now) == (
        NoticeView(
            id=notice.pk,
            kind="invite",
            owed_at=now,
            subject=meeting.pk,
            other=report.name,
            line_id=meeting.line_id,
            meeting_id=meeting.pk,
            starts_at=meeting.starts_at,
            zone="Europe/London",
        ),
    )
    assert selector.unread(report, now=now) == ()


def test_no_field_of_the_view_can_hold_anybodys_words() -> None:
    """Text fields are the kind, a name and a zone; everything else is an id, a time or a yes or no."""
    texts = {field.name for field in dataclasses.fields(NoticeView) if field.type == "str"}
    assert texts == {"kind", "other", "zone"}


def test_one_owed_ahead_shows_when_its_time_has_come(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    about(meeting, "today", manager, now, owed_at=now + dt.timedelta(hours=1))
    assert kinds(manager, now) == []
    assert kinds(manager, now + dt.timedelta(hours=1)) == ["today"]


def test_what_was_read_or_cancelled_is_not_shown(meeting: Meeting, manager: Person, now: dt.datetime) -> None:
    notices.mark_read(notice=about(meeting, "invite", manager, now), actor=manager, now=now)
    about(meeting, "today", manager, now)
    notices.cancel(kind="today", subject=meeting.pk, now=now)
    assert kinds(manager, now) == []


@pytest.mark.parametrize("kind", ["invite", "issued", "today", "moved"])
def test_what_prepares_for_a_meeting_is_over_when_it_should_have_begun(
    meeting: Meeting, manager: Person, now: dt.datetime, kind: str
) -> None:
    if kind == "issued":
        Meeting.objects.filter(pk=meeting.pk).update(state="issued")
    about(meeting, kind, manager, now)
    assert kinds(manager, now) == [kind]
    assert kinds(manager, meeting.starts_at) == []


def test_a_reminder_of_a_time_that_was_changed_is_overtaken(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    about(meeting, "today", report, now)
    meetings.move(
        meeting=meeting,
        starts_at=dt.datetime(2026, 12, 8, 14, 0, tzinfo=dt.UTC),
        actor=manager,
        now=now,
    )
    assert kinds(report, now) == ["moved"]


def test_a_meeting_called_off_takes_its_other_notices_along(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    for kind in ("invite", "today"):
        about(meeting, kind, report, now)
    meetings.call_off(meeting=meeting, actor=manager, now=now)
    assert kinds(report, now) == ["called_off"]


def test_once_the_record_is_seen_nobody_is_asked_to_look_at_it(
    closed_meeting: Meeting, report: Person
) -> None:
    about(closed_meeting, "record", report, AFTER)
    assert "record" in kinds(report, AFTER)
    record.mark_seen(meeting=closed_meeting, actor=report, now=AFTER)
    assert "record" not in kinds(report, AFTER)


def test_did_you_meet_is_asked_until_it_is_answered_even_once_it_is_taken_as_not_held(
    meeting: Meeting, manager: Person
) -> None:
    later = meeting.starts_at + dt.timedelta(days=2)
    about(meeting, "unanswered", manager, later)
    claims.give_up(meeting=meeting, now=later)
    assert kinds(manager, later) == ["unanswered"]
    claims.we_met(
        line=meeting.line,
        day=dt.date(2026, 12, 3),
        meeting=meeting,
        discussed=[],
        actor=manager,
        now=later,
        today=later.date(),
    )
    assert kinds(manager, later) == []


def test_a_commitment_is_asked_about_while_it_is_offered_and_reminded_of_while_it_is_open(
    taken_on: TakenOn, report: Person
) -> None:
    commitment = taken_on.offered
    notices.owe(
        kind="commitment",
        person=report,
        subject=commitment.pk,
        occurrence="date 2027-02-01",
        line=commitment.line,
        commitment=commitment,
        now=AFTER,
    )
    assert set(kinds(report, AFTER)) == {"offered", "commitment"}
    commitments.confirm(commitment=commitment, actor=report, now=AFTER)
    assert kinds(report, AFTER) == ["commitment"]
    view = selector.unread(report, now=AFTER)[0]
    assert (view.date, view.commitment_id) == (dt.date(2027, 2, 1), commitment.pk)
    duedates.change_date(
        commitment=commitment,
        date=dt.date(2027, 3, 1),
        version=commitment.version,
        actor=report,
        now=AFTER,
    )
    assert kinds(report, AFTER) == []


def test_a_proposal_is_asked_about_until_it_is_answered(
    taken_on: TakenOn, report: Person, manager: Person
) -> None:
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    assert "proposal" in kinds(manager, AFTER)
    Proposal.objects.filter(pk=offer.pk).update(state="withdrawn")
    assert "proposal" not in kinds(manager, AFTER)


def test_an_interval_that_ran_out_is_not_told_once_the_two_have_met(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    notices.owe(
        kind="cadence", person=manager, subject=line.pk, occurrence="over 2026-11-20", line=line, now=now
    )
    view = selector.unread(manager, now=now)[0]
    assert (view.kind, view.date, view.is_over) == ("cadence", dt.date(2026, 11, 20), True)
    claims.we_met(
        line=line, day=now.date(), meeting=None, discussed=[], actor=manager, now=AFTER, today=AFTER.date()
    )
    assert kinds(manager, AFTER) == []


def test_when_a_line_ends_only_the_end_and_ones_own_commitments_are_told(
    closed_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person, administrator: Person
) -> None:
    about(closed_meeting, "record", report, AFTER)
    notices.owe(
        kind="commitment",
        person=report,
        subject=taken_on.reports.pk,
        occurrence="cue 2026-12-03",
        line=closed_meeting.line,
        commitment=taken_on.reports,
        now=AFTER,
    )
    lines.end(line=closed_meeting.line, actor=administrator, now=AFTER, today=AFTER.date())
    assert set(kinds(report, AFTER)) == {"line_ended", "commitment"}
    assert kinds(manager, AFTER) == ["line_ended"]


def test_what_was_overtaken_hides_nothing_that_holds(
    closed_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    """Nobody has to mark the reminders of a year as read to find what somebody else has offered them."""
    for kind, number in (("today", selector.SHOWN), ("issued", 5), ("unanswered", 5)):
        for occurrence in range(number):
            about(closed_meeting, kind, report, AFTER, occurrence=str(occurrence))
    assert "offered" in kinds(report, AFTER)


def test_it_takes_as_many_queries_for_four_lines_as_for_one(
    manager: Person, report: Person, peer: Person, outsider: Person, lead: Person, now: dt.datetime
) -> None:
    def notices_on(people: list[Person]) -> None:
        for person in people:
            line = make_line(manager, person)
            for meeting in line.meetings.all():
                for kind in ("invite", "today"):
                    about(meeting, kind, manager, now)

    people = [report, peer, outsider, lead]
    notices_on(people[:1])
    with queries() as few:
        assert len(selector.unread(manager, now=now)) == 2
    notices_on(people[1:])
    with queries() as many:
        assert len(selector.unread(manager, now=now)) == 8
    assert len(many) == len(few)


def test_the_jobs_own_notices_can_all_be_viewed(meeting: Meeting, manager: Person) -> None:
    """Asked about, a day after: the view of what the job owed has the other's name and the time."""
    later = meeting.starts_at + dt.timedelta(days=1)
    assert jobs_meetings.ASK.do_one(later)
    view = selector.unread(manager, now=later)[0]
    assert (view.kind, view.other, view.starts_at) == ("unanswered", "Tomas Lindqvist", meeting.starts_at)
