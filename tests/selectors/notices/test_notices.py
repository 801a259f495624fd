"""What a reader is shown of what is owed to them, and what has been overtaken."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from accounts.models import Person
from oneonone.mail import wording
from oneonone.models import Line, Meeting, Notice, Proposal, Topic
from oneonone.selectors.agenda import third_time
from oneonone.selectors.notices import notices as selector
from oneonone.selectors.notices.notices import NoticeView
from oneonone.services.cadence import cadence_jobs
from oneonone.services.commitments import commitments, due_dates, handover
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims, meeting_jobs, meetings, time_proposals
from oneonone.services.notices import notices
from oneonone.services.record import record
from oneonone.web.notices import notice_wording
from tests.cast import queries
from tests.scene import AFTER, DURING, Brought, TakenOn, make_line

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
    """Text fields are codes, a name and a zone; everything else is an id, a time, a number or a yes or no."""
    texts = {field.name for field in dataclasses.fields(NoticeView) if field.type == "str"}
    assert texts == {"kind", "other", "zone", "of"}


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
    held_claims.give_up(meeting=meeting, now=later)
    assert kinds(manager, later) == ["unanswered"]
    held_claims.we_met(
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
    due_dates.change_date(
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
    held_claims.we_met(
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
    assert meeting_jobs.ASK.do_one(later)
    view = selector.unread(manager, now=later)[0]
    assert (view.kind, view.other, view.starts_at) == ("unanswered", "Tomas Lindqvist", meeting.starts_at)


@pytest.mark.parametrize("occurrence", ["over 2026-11-20", "runs out 2026-12-10"])
def test_an_interval_without_a_meeting_is_not_told_while_one_is_under_way(
    occurrence: str, under_way_meeting: Meeting, manager: Person
) -> None:
    line = under_way_meeting.line
    notices.owe(kind="cadence", person=manager, subject=line.pk, occurrence=occurrence, line=line, now=DURING)
    assert "cadence" not in kinds(manager, DURING)
    Meeting.objects.filter(pk=under_way_meeting.pk).update(given_up_at=DURING)
    assert "cadence" in kinds(manager, DURING)


def test_the_job_owes_none_either_while_one_is_under_way(under_way_meeting: Meeting, manager: Person) -> None:
    late = dt.datetime(2027, 6, 1, 10, 0, tzinfo=dt.UTC)
    assert cadence_jobs.CADENCE.do_one(late)
    assert not Notice.objects.filter(kind="cadence").exists()
    Meeting.objects.filter(pk=under_way_meeting.pk).update(given_up_at=late)
    assert cadence_jobs.CADENCE.do_one(late + dt.timedelta(days=1))
    assert Notice.objects.filter(kind="cadence").count() == 2


def test_that_an_interval_runs_out_is_settled_by_a_meeting_planned_within_it(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    """The meeting is on 3 December."""
    for day, told in (("2026-12-02", True), ("2026-12-03", False)):
        notice = notices.owe(
            kind="cadence", person=manager, subject=line.pk, occurrence=f"runs out {day}", line=line, now=now
        )
        assert (notice.pk in {view.id for view in selector.unread(manager, now=now)}) is told


def test_a_topic_that_was_reached_since_is_not_asked_about(
    closed_meeting: Meeting, brought: Brought, report: Person
) -> None:
    for topic, at in ((brought.licence, AFTER), (brought.sheet, DURING), (brought.crane, AFTER)):
        notices.owe(kind="third_time", person=report, subject=topic.pk, line=closed_meeting.line, now=at)
    Topic.objects.filter(pk__in=[brought.sheet.pk, brought.crane.pk]).update(state="open")
    asked = {view.subject for view in selector.unread(report, now=AFTER) if view.kind == "third_time"}
    assert asked == {brought.licence.pk, brought.crane.pk}
    shown = third_time.asked(report, closed_meeting.line, now=AFTER)
    assert {one.topic_id for one in shown} == asked


def test_a_time_that_can_no_longer_be_agreed_is_not_asked_about(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    time_proposals.propose(meeting=meeting, day=dt.date(2026, 12, 4), time=dt.time(11), actor=report, now=now)
    assert kinds(manager, now) == ["proposal"]
    assert "proposal" not in kinds(manager, meeting.starts_at)
    meetings.move(
        meeting=meeting, starts_at=meeting.starts_at + dt.timedelta(hours=2), actor=manager, now=now
    )
    assert "proposal" not in kinds(manager, now)


def test_what_waits_for_an_answer_comes_first_however_old_it_is(
    closed_meeting: Meeting, report: Person
) -> None:
    """It is not pushed off the list by newer news either."""
    later = AFTER + dt.timedelta(minutes=5)
    for occurrence in range(selector.SHOWN):
        about(closed_meeting, "joined", report, later, occurrence=str(occurrence))
    shown = selector.unread(report, now=later)
    assert [view.kind for view in shown[:2]] == ["offered", "joined"]


@pytest.mark.parametrize(
    ("occurrence", "day", "web", "mail"),
    [
        ("date 2026-12-17", 16, "is due on Thursday 17 December.", "It is due on"),
        ("date 2026-12-17", 17, "is due today, Thursday 17 December.", "It is due today"),
        ("date 2026-12-17", 18, "was due on Thursday 17 December.", "It was due on"),
        ("cue 2026-12-10", 18, "You meant to begin with", "You meant to begin with"),
    ],
)
def test_a_date_that_has_passed_is_said_in_the_past(
    occurrence: str, day: int, web: str, mail: str, taken_on: TakenOn, manager: Person
) -> None:
    one = taken_on.managers
    notices.owe(
        kind="commitment",
        person=manager,
        subject=one.pk,
        occurrence=occurrence,
        line=one.line,
        commitment=one,
        now=AFTER,
    )
    now = dt.datetime(2026, 12, day, 9, 0, tzinfo=dt.UTC)
    (view,) = (view for view in selector.unread(manager, now=now) if view.kind == "commitment")
    assert web in notice_wording.sentence(view)
    assert mail in wording.sentence(view, manager)


def test_every_sentence_of_a_proposal_and_its_answer_is_there_for_page_and_mail(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    """Also for those owed before their kind was kept with them."""
    for kind in ("proposal", "agreed", "declined"):
        for of in ("", *Proposal.Kind.values):
            if of == "bring_forward" or (kind, of) in (("agreed", "time"), ("agreed", "extra")):
                continue
            notice = about(meeting, kind, manager, now, occurrence=of)
            view = selector.view_of(notice, manager, now=now)
            for said in (notice_wording.sentence(view), wording.sentence(view, manager)):
                assert "Tomas Lindqvist" in said
                assert "%" not in said
