"""What falls due around a meeting: when, once, and for whom."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from accounts.models import DayAway, Person
from oneonone.models import Line, Meeting, Notice, Order, Placement
from oneonone.models.base import LONG_DUE
from oneonone.services.agenda import issuing
from oneonone.services.lines import lines
from oneonone.services.meetings import coming_meetings, meeting_jobs, meetings, starting
from oneonone.services.notices.job_queue import Job
from oneonone.services.record import record
from tests.scene import AFTER, MADE, WEEKLY, Brought, coming_of, make_line, make_topic, placement_of

pytestmark = pytest.mark.django_db
INVITE = dt.datetime(2026, 11, 19, 9, 0, tzinfo=dt.UTC)
ISSUE = dt.datetime(2026, 11, 30, 12, 0, tzinfo=dt.UTC)
SECOND = dt.timedelta(seconds=1)


def utc(month: int, day: int, hour: int = 0, minute: int = 0) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC)


def told(kind: str) -> dict[str, dt.datetime]:
    """Who is owed a notice of this kind, and from when."""
    return {notice.person.name: notice.owed_at for notice in Notice.objects.filter(kind=kind)}


def runs(job: Job[Meeting] | Job[Line], now: dt.datetime) -> int:
    count = 0
    while job.do_one(now):
        count += 1
    return count


# --- coming


def test_a_line_without_a_meeting_ahead_gets_one_and_then_no_other(line: Line) -> None:
    Meeting.objects.all().delete()
    Line.objects.update(plan_at=MADE)
    assert runs(meeting_jobs.COMING, MADE) == 1
    assert coming_of(line).starts_at == utc(12, 3, 10)
    assert runs(meeting_jobs.COMING, MADE) == 0


def test_a_line_that_lost_its_meeting_is_repaired(line: Line) -> None:
    assert runs(meeting_jobs.REPAIR_COMING, MADE) == 0
    Meeting.objects.all().delete()
    assert runs(meeting_jobs.REPAIR_COMING, MADE) == 1
    assert coming_of(line).starts_at == utc(12, 3, 10)


@pytest.mark.parametrize("state", ["closed", "called_off"])
def test_one_that_was_held_early_or_called_off_is_followed_too(line: Line, state: str) -> None:
    Meeting.objects.update(state=state, closed_at=MADE, held_on=MADE.date())
    assert runs(meeting_jobs.FOLLOW_BEGUN, MADE) == 1
    assert line.meetings.filter(state="planned").count() == 1
    assert runs(meeting_jobs.FOLLOW_BEGUN, MADE) == 0


def test_one_that_began_early_is_followed_at_its_time_since_its_start_may_be_taken_back(
    meeting: Meeting, line: Line, manager: Person
) -> None:
    early = meeting.starts_at - dt.timedelta(minutes=5)
    meetings.start(meeting=meeting, actor=manager, now=early)
    assert runs(meeting_jobs.FOLLOW_BEGUN, early) == 0
    assert runs(meeting_jobs.REPAIR_COMING, early) == 0
    meeting_jobs.follow(meeting, early)
    assert Meeting.objects.get().is_next
    meeting.refresh_from_db()
    starting.take_back(meeting=meeting, actor=manager, now=early)
    assert Meeting.objects.coming().get().is_next
    meeting.refresh_from_db()
    meetings.start(meeting=meeting, actor=manager, now=early)
    assert runs(meeting_jobs.FOLLOW_BEGUN, meeting.starts_at) == 1
    assert line.meetings.filter(state="planned", is_next=True).count() == 1


def test_a_line_that_had_a_meeting_before_the_mark_was_kept_is_followed_once_it_was_looked_at(
    line: Line,
) -> None:
    """As a database of an earlier version has it."""
    Meeting.objects.update(is_next=False)
    Line.objects.update(plan_at=LONG_DUE)
    assert runs(meeting_jobs.COMING, MADE) == 1
    assert Meeting.objects.get().is_next
    assert runs(meeting_jobs.COMING, MADE) == 0


def test_a_line_of_which_none_can_be_made_is_looked_at_again(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    lines.pause(line=line, first=now.date(), last=None, actor=manager, now=now, today=now.date())
    hour = now + dt.timedelta(hours=1)
    assert [runs(meeting_jobs.COMING, at) for at in (hour - SECOND, hour)] == [0, 1]
    assert runs(meeting_jobs.COMING, hour + dt.timedelta(hours=23)) == 0
    lines.resume(line=line, actor=manager, now=hour, today=hour.date())
    assert coming_of(line).starts_at == utc(12, 3, 10)


def test_when_the_meeting_ahead_has_begun_the_one_after_it_is_made(line: Line) -> None:
    assert runs(meeting_jobs.FOLLOW, utc(12, 3, 9, 59)) == 0
    assert runs(meeting_jobs.FOLLOW, utc(12, 3, 10)) == 1
    assert runs(meeting_jobs.FOLLOW, utc(12, 3, 10)) == 0
    assert Meeting.objects.filter(line=line).count() == 2


def test_a_line_paused_without_end_and_one_that_has_ended_get_none(
    line: Line, former_line: Line, manager: Person, now: dt.datetime
) -> None:
    lines.pause(line=line, first=now.date(), last=None, actor=manager, now=now, today=now.date())
    assert runs(meeting_jobs.COMING, now) == 0


def test_a_line_for_which_none_can_be_made_does_not_hold_up_the_others(
    line: Line, manager: Person, report: Person, peer: Person
) -> None:
    DayAway.objects.create(person=report, first=dt.date(2026, 9, 1), last=dt.date(2036, 9, 1))
    Meeting.objects.all().delete()
    other = make_line(manager, peer, now=dt.datetime(2026, 9, 9, 9, 0, tzinfo=dt.UTC))
    Meeting.objects.all().delete()
    Line.objects.update(plan_at=MADE)
    runs(meeting_jobs.COMING, MADE)
    assert list(Meeting.objects.values_list("line", flat=True)) == [other.pk]


# --- invite and issue


def test_both_are_asked_for_topics_ten_working_days_before(meeting: Meeting) -> None:
    assert meeting.invite_at == INVITE
    assert runs(meeting_jobs.INVITE, INVITE - SECOND) == 0
    assert runs(meeting_jobs.INVITE, INVITE) == 1
    assert told("invite") == {"Ines Okafor": INVITE, "Tomas Lindqvist": INVITE}
    meeting.refresh_from_db()
    assert (meeting.invited_at, meeting.invited_by, meeting.state) == (INVITE, None, "planned")
    assert runs(meeting_jobs.INVITE, INVITE) == 0
    assert Notice.objects.count() == 2


def test_whoever_was_invited_by_hand_is_not_invited_again(meeting: Meeting, manager: Person) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="Bring the berth plan.", now=INVITE - SECOND)
    assert runs(meeting_jobs.INVITE, INVITE) == 0


def test_the_order_is_issued_three_working_days_before_at_noon(meeting: Meeting, brought: Brought) -> None:
    assert runs(meeting_jobs.ISSUE, ISSUE - SECOND) == 0
    assert runs(meeting_jobs.ISSUE, ISSUE) == 1
    meeting.refresh_from_db()
    assert (meeting.state, meeting.issued_at) == ("issued", ISSUE)
    assert told("issued") == {"Ines Okafor": ISSUE, "Tomas Lindqvist": ISSUE}
    assert runs(meeting_jobs.ISSUE, ISSUE) == 0
    assert Order.objects.count() == 1


def test_jobs_that_slept_over_the_start_invite_and_issue_nothing(meeting: Meeting) -> None:
    assert runs(meeting_jobs.INVITE, meeting.starts_at) == 0
    assert runs(meeting_jobs.ISSUE, meeting.starts_at) == 0


# --- today


def test_the_reminder_of_the_day_is_owed_ahead_for_each_ones_own_hour(
    meeting: Meeting, report: Person
) -> None:
    """The meeting is at 10:00 in London, 02:00 in Los Angeles: Tomas is told the evening before, his time."""
    report.zone = "America/Los_Angeles"
    report.save(update_fields=["zone"])
    assert runs(meeting_jobs.TODAY, utc(12, 1, 9, 59)) == 0
    assert runs(meeting_jobs.TODAY, utc(12, 1, 10)) == 1
    assert told("today") == {"Ines Okafor": utc(12, 3, 8), "Tomas Lindqvist": utc(12, 3, 3, 59)}
    assert set(Notice.objects.values_list("at_once", flat=True)) == {False}
    assert runs(meeting_jobs.TODAY, utc(12, 1, 10)) == 0


def test_an_early_meeting_is_reminded_of_on_the_evening_before_never_in_quiet_hours(
    manager: Person, report: Person
) -> None:
    """At 07:30 two hours before would be 05:30, within the quiet hours that begin at 20:00."""
    line = make_line(manager, report, terms=replace(WEEKLY, time=dt.time(7, 30)))
    coming_meetings.ensure(line=line, now=utc(12, 1))
    runs(meeting_jobs.TODAY, utc(12, 1))
    assert told("today")["Ines Okafor"] == utc(12, 1, 19, 59)


def test_a_meeting_that_was_moved_is_reminded_of_at_its_new_time(meeting: Meeting, manager: Person) -> None:
    runs(meeting_jobs.TODAY, utc(12, 2))
    meetings.move(meeting=meeting, starts_at=utc(12, 4, 14), actor=manager, now=utc(12, 2))
    runs(meeting_jobs.TODAY, utc(12, 3))
    owed = Notice.objects.filter(kind="today", person=manager).order_by("schedule_version")
    assert [notice.owed_at for notice in owed] == [utc(12, 3, 8), utc(12, 4, 8)]


# --- record


def test_who_has_not_seen_the_record_is_nudged_once(closed_meeting: Meeting, report: Person) -> None:
    record.mark_seen(meeting=closed_meeting, actor=report, now=AFTER)
    due = closed_meeting.record_at
    assert runs(meeting_jobs.RECORD, due - SECOND) == 0
    assert runs(meeting_jobs.RECORD, due) == 1
    assert told("record") == {"Ines Okafor": due}
    assert runs(meeting_jobs.RECORD, due) == 0


def test_a_record_of_long_ago_is_not_nudged_about(closed_meeting: Meeting) -> None:
    assert runs(meeting_jobs.RECORD, closed_meeting.record_at + dt.timedelta(days=14)) == 0


# --- not answered


def test_a_day_after_a_meeting_that_nobody_started_both_are_asked_once(meeting: Meeting) -> None:
    assert runs(meeting_jobs.ASK, utc(12, 4, 9, 59)) == 0
    assert runs(meeting_jobs.ASK, utc(12, 4, 10)) == 1
    assert set(told("unanswered")) == {"Ines Okafor", "Tomas Lindqvist"}
    assert runs(meeting_jobs.ASK, utc(12, 5)) == 0


def test_a_meeting_left_under_way_is_asked_about_and_never_closed_by_itself(
    under_way_meeting: Meeting,
) -> None:
    assert runs(meeting_jobs.ASK, utc(12, 4, 10)) == 0
    assert runs(meeting_jobs.ASK_LEFT, utc(12, 4, 10)) == 1
    assert runs(meeting_jobs.ASK_LEFT, utc(12, 5)) == 0
    assert set(told("left_open")) == {"Ines Okafor", "Tomas Lindqvist"}
    assert not told("unanswered")
    under_way_meeting.refresh_from_db()
    assert under_way_meeting.state == Meeting.State.UNDER_WAY


def test_not_answered_until_the_next_invitation_it_is_not_held_and_its_topics_go_on(
    meeting: Meeting, brought: Brought
) -> None:
    """The next meeting is on 4 March 2027; its invitation is due ten working days before, on 18 February."""
    runs(meeting_jobs.FOLLOW_BEGUN, utc(12, 4))
    runs(meeting_jobs.FOLLOW, utc(12, 4))
    following = Meeting.objects.filter(line=meeting.line).order_by("starts_at").last()
    assert following is not None
    assert following.invite_at == dt.datetime(2027, 2, 18, 9, 0, tzinfo=dt.UTC)
    runs(meeting_jobs.GIVE_UP, following.invite_at - SECOND)
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.PLANNED
    assert runs(meeting_jobs.GIVE_UP, following.invite_at) == 1
    meeting.refresh_from_db()
    assert meeting.state == Meeting.State.NOT_HELD
    assert placement_of(brought.crane).meeting == following
    assert runs(meeting_jobs.GIVE_UP, following.invite_at) == 0


def test_one_left_under_way_gives_up_its_topics_and_stays_open(
    under_way_meeting: Meeting, brought: Brought
) -> None:
    runs(meeting_jobs.FOLLOW_BEGUN, utc(12, 4))
    runs(meeting_jobs.FOLLOW, utc(12, 4))
    due = dt.datetime(2027, 2, 18, 9, 0, tzinfo=dt.UTC)
    assert runs(meeting_jobs.GIVE_UP, due) == 1
    under_way_meeting.refresh_from_db()
    assert (under_way_meeting.state, under_way_meeting.given_up_at) == ("under_way", due)
    assert placement_of(brought.sheet).meeting != under_way_meeting
    assert runs(meeting_jobs.GIVE_UP, due) == 0


def test_a_weekly_meeting_that_has_just_begun_is_not_given_up_though_the_next_invitation_is_due(
    manager: Person, report: Person
) -> None:
    line = make_line(manager, report, terms=WEEKLY, now=utc(11, 25, 9))
    line.invite_working_days = 5
    line.save(update_fields=["invite_working_days"])
    first = coming_of(line)
    runs(meeting_jobs.FOLLOW, first.starts_at)
    following = Meeting.objects.filter(line=line).order_by("starts_at").last()
    assert following is not None
    assert following.invite_at < first.starts_at
    states = []
    for later in (dt.timedelta(minutes=5), dt.timedelta(days=1)):
        runs(meeting_jobs.GIVE_UP, first.starts_at + later)
        states.append(Meeting.objects.get(pk=first.pk).state)
    assert states == [Meeting.State.PLANNED, Meeting.State.NOT_HELD]


# --- kept topics


def test_an_open_topic_that_is_in_no_meeting_is_put_on_the_coming_one(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    topic = make_topic(line, manager)
    Placement.objects.all().delete()
    assert runs(meeting_jobs.GATHER, now) == 1
    assert placement_of(topic).meeting == coming_of(line)
    assert runs(meeting_jobs.GATHER, now) == 0


def test_a_standing_topic_waits_for_its_turn_without_keeping_the_job_busy(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    make_topic(line, manager, every_nth=2)
    Placement.objects.all().delete()
    assert runs(meeting_jobs.GATHER, now) == 0


def test_an_issued_order_is_not_issued_again_by_the_job(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    issuing.issue(meeting=meeting, actor=manager, now=now)
    assert runs(meeting_jobs.ISSUE, ISSUE) == 0


# --- prepare


def test_on_the_last_day_to_prepare_both_are_reminded_once(meeting: Meeting, brought: Brought) -> None:
    """The meeting is on Thursday 3 December; its last day to prepare is Wednesday."""
    runs(meeting_jobs.ISSUE, ISSUE)
    assert runs(meeting_jobs.PREPARE, utc(12, 1, 23, 58)) == 0
    assert runs(meeting_jobs.PREPARE, utc(12, 2, 0)) == 1
    assert set(told("prepare")) == {"Ines Okafor", "Tomas Lindqvist"}
    assert runs(meeting_jobs.PREPARE, utc(12, 2, 12)) == 0


def test_a_weekly_line_has_no_day_to_prepare_of_its_own(manager: Person, report: Person) -> None:
    line = make_line(manager, report, terms=WEEKLY)
    issuing.issue(meeting=coming_of(line), actor=None, now=utc(12, 1, 12))
    assert runs(meeting_jobs.PREPARE, utc(12, 2, 9)) == 0
