"""A meeting's life, and what becomes of its topics and commitments in each case."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import (
    Commitment,
    Line,
    Meeting,
    Move,
    Order,
    Placement,
    Proposal,
    Topic,
)
from oneonone.models.owed import Notice
from oneonone.selectors.agenda import orders
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.services.agenda import issuing, placement_by_hand
from oneonone.services.commitments import carrying
from oneonone.services.meetings import coming_meetings, meeting_jobs, meetings
from oneonone.services.refusals import (
    AlreadyStarted,
    NotNow,
    OutOfRange,
    PastDate,
    PastNextMeeting,
)
from tests.scene import (
    CLOSED,
    DURING,
    STARTS,
    Brought,
    TakenOn,
    coming_of,
    make_topic,
    placement_of,
    times_carried,
    titles_of,
    undecided_at,
)

NEXT = dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)


# --- invited


def test_an_invitation_by_hand_confirms_the_meeting_and_asks_both(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="Think of the winter boats.", now=now)
    assert (meeting.invited_at, meeting.invited_by, meeting.confirmed_at) == (now, manager, now)
    assert meeting.invitation_words == "Think of the winter boats."
    assert Notice.objects.filter(kind=Notice.Kind.INVITE, meeting=meeting).count() == 2


def test_an_invitation_by_itself_confirms_nothing(meeting: Meeting, now: dt.datetime) -> None:
    meetings.invite(meeting=meeting, actor=None, words="", now=now)
    assert (meeting.invited_at, meeting.confirmed_at) == (now, None)


def test_people_are_invited_once(meeting: Meeting, manager: Person, now: dt.datetime) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    with pytest.raises(NotNow):
        meetings.invite(meeting=meeting, actor=None, words="", now=now)


# --- moved


def move(meeting: Meeting, to: dt.datetime, actor: Person, now: dt.datetime) -> Meeting:
    return meetings.move(meeting=meeting, starts_at=to, actor=actor, now=now)


def test_a_moved_meeting_stays_the_same_with_all_that_belongs_to_it(
    issued_meeting: Meeting, brought: Brought, report: Person, manager: Person, now: dt.datetime
) -> None:
    before = (issued_meeting.pk, issued_meeting.uid, issued_meeting.occurrence_key)
    to = dt.datetime(2026, 12, 4, 9, 0, tzinfo=dt.UTC)
    move(issued_meeting, to, report, dt.datetime(2026, 12, 2, 9, 0, tzinfo=dt.UTC))
    assert (issued_meeting.pk, issued_meeting.uid, issued_meeting.occurrence_key) == before
    assert (issued_meeting.starts_at, issued_meeting.schedule_version) == (to, 2)
    assert issued_meeting.calendar_sequence == 1
    assert (issued_meeting.state, issued_meeting.issued_at) == (Meeting.State.ISSUED, now)
    assert undecided_at(issued_meeting) == titles_of(brought)
    moved = Move.objects.get()
    assert (moved.from_start, moved.to_start, moved.by) == (STARTS, to, report)
    assert [n.person for n in Notice.objects.filter(kind=Notice.Kind.MOVED)] == [manager]


@pytest.mark.parametrize(
    "to",
    [dt.datetime(2026, 12, 17, 10, 0, tzinfo=dt.UTC), dt.datetime(2026, 12, 3, 15, 0, tzinfo=dt.UTC)],
    ids=["far off", "later that day"],
)
def test_that_a_near_meeting_has_moved_is_told_at_once_wherever_it_went(
    meeting: Meeting, to: dt.datetime, manager: Person
) -> None:
    move(meeting, to, manager, dt.datetime(2026, 12, 2, 16, 0, tzinfo=dt.UTC))
    assert Notice.objects.get(kind=Notice.Kind.MOVED).at_once


def test_a_move_between_days_far_ahead_waits_for_the_digest(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    move(meeting, dt.datetime(2026, 12, 17, 10, 0, tzinfo=dt.UTC), manager, now)
    assert not Notice.objects.get(kind=Notice.Kind.MOVED).at_once


def test_moved_so_far_that_its_issue_lies_ahead_it_is_planned_again_and_keeps_the_old_order(
    issued_meeting: Meeting, brought: Brought, report: Person, manager: Person, now: dt.datetime
) -> None:
    placement_by_hand.move(placement=placement_of(brought.licence), places=-99, actor=report, now=now)
    chosen = orders.latest(issued_meeting)
    move(issued_meeting, dt.datetime(2027, 1, 14, 10, 0, tzinfo=dt.UTC), manager, now)
    assert (issued_meeting.state, issued_meeting.issued_at) == (Meeting.State.PLANNED, None)
    assert issued_meeting.issue_at == dt.datetime(2027, 1, 11, 12, 0, tzinfo=dt.UTC)
    issuing.issue(meeting=issued_meeting, actor=None, now=issued_meeting.issue_at)
    again = orders.latest(issued_meeting)
    assert chosen is not None
    assert again is not None
    assert again.number == 3
    assert [s["key"] for s in again.plan["slots"]] == [s["key"] for s in chosen.plan["slots"]]


def test_an_invitation_that_went_out_is_not_owed_again_after_a_short_move(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="", now=now)
    asked = meeting.invite_at
    move(meeting, dt.datetime(2026, 12, 4, 10, 0, tzinfo=dt.UTC), manager, now)
    assert (meeting.invite_at, meeting.invited_at) == (asked, now)


def test_moved_past_its_issue_it_gathers_topics_anew_at_the_moments_of_the_new_date(
    issued_meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    late = make_topic(line, report, "The whole winter plan", now=now, minutes=35)
    to = dt.datetime(2026, 12, 11, 10, 0, tzinfo=dt.UTC)
    move(issued_meeting, to, manager, now + dt.timedelta(days=5))
    assert (issued_meeting.state, issued_meeting.invited_at) == (Meeting.State.PLANNED, None)
    assert issued_meeting.issue_at == dt.datetime(2026, 12, 8, 12, 0, tzinfo=dt.UTC)
    placement = placement_of(late)
    assert not placement.is_late
    assert Proposal.objects.get(placement=placement).state == Proposal.State.LAPSED
    meeting_jobs.invite(issued_meeting, now + dt.timedelta(days=5))
    asked = Notice.objects.filter(kind=Notice.Kind.INVITE, schedule_version=issued_meeting.schedule_version)
    assert {notice.person for notice in asked} == {manager, report}


def test_words_of_the_managers_own_outlive_an_invitation_that_goes_out_again(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    meetings.invite(meeting=meeting, actor=manager, words="Think of the winter boats.", now=now)
    move(meeting, dt.datetime(2027, 1, 14, 10, 0, tzinfo=dt.UTC), manager, now)
    assert (meeting.invited_at, meeting.invite_at) == (None, dt.datetime(2026, 12, 31, 9, 0, tzinfo=dt.UTC))
    meetings.invite(meeting=meeting, actor=None, words="", now=meeting.invite_at)
    assert meeting.invitation_words == "Think of the winter boats."


@pytest.mark.parametrize(
    ("to", "refused"),
    [
        (dt.datetime(2026, 11, 25, 10, 0, tzinfo=dt.UTC), PastDate),
        (dt.datetime(2026, 11, 20, 10, 0, tzinfo=dt.UTC), PastDate),
        (STARTS, OutOfRange),
        (NEXT, PastNextMeeting),
        (dt.datetime(2027, 3, 4, 8, 0, tzinfo=dt.UTC), PastNextMeeting),
        (dt.datetime(2027, 6, 1, 8, 0, tzinfo=dt.UTC), PastNextMeeting),
    ],
)
def test_a_time_that_cannot_be_is_refused_and_changes_nothing(
    meeting: Meeting, manager: Person, now: dt.datetime, to: dt.datetime, refused: type[OutOfRange]
) -> None:
    with pytest.raises(refused) as refusal:
        move(meeting, to, manager, now)
    assert refusal.value.field == "day"
    meeting.refresh_from_db()
    assert (meeting.starts_at, meeting.schedule_version) == (STARTS, 1)
    assert not Move.objects.exists()


def test_people_who_share_no_working_day_count_every_day(
    meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    for person, week in ((manager, "1110000"), (report, "0001100")):
        person.working_week = week
        person.save(update_fields=["working_week"])
    coming_meetings.refresh_lines_of(person=manager, now=now)
    meeting = move(coming_of(meeting.line), dt.datetime(2026, 12, 7, 9, 0, tzinfo=dt.UTC), manager, now)
    assert meeting.issue_at == dt.datetime(2026, 12, 4, 12, 0, tzinfo=dt.UTC)


def test_a_meeting_that_has_begun_or_is_over_is_not_moved(
    closed_meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        move(closed_meeting, dt.datetime(2026, 12, 10, 9, 0, tzinfo=dt.UTC), manager, now)


def test_a_regular_meeting_moved_before_an_extra_one_takes_the_topics(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    extra = meetings.extra(
        line=line, day=dt.date(2026, 12, 1), time=dt.time(9), minutes=30, actor=manager, now=now
    )
    assert undecided_at(extra) == titles_of(brought)
    move(meeting, dt.datetime(2026, 11, 30, 9, 0, tzinfo=dt.UTC), manager, now)
    assert undecided_at(meeting) == titles_of(brought)


# --- called off


def test_calling_off_loses_no_topic_and_the_next_meeting_is_there(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    following = meetings.call_off(meeting=issued_meeting, actor=manager, now=now)
    assert following is not None
    assert (issued_meeting.state, issued_meeting.called_off_by) == ("called_off", manager)
    assert (following.starts_at, undecided_at(following)) == (NEXT, titles_of(brought))
    assert set(Topic.objects.values_list("state", flat=True)) == {Topic.State.OPEN}
    assert [n.person for n in Notice.objects.filter(kind=Notice.Kind.CALLED_OFF)] == [report]


def test_calling_off_carries_commitments_without_counting(
    closed_meeting: Meeting, next_meeting: Meeting, taken_on: TakenOn, manager: Person
) -> None:
    at = dt.datetime(2027, 3, 1, 9, 0, tzinfo=dt.UTC)
    following = meetings.call_off(meeting=next_meeting, actor=manager, now=at)
    carrying.carry(meeting=next_meeting, now=at)
    assert following is not None
    carried = taken_on.managers.carries.get(from_meeting=next_meeting)
    assert (carried.cause, carried.to_meeting) == ("called_off", following)
    assert times_carried(taken_on.managers, manager, at) == 0
    assert Commitment.objects.get(pk=taken_on.managers.pk).original_date == dt.date(2026, 12, 17)


def test_a_meeting_is_called_off_once_and_not_while_under_way(
    under_way_meeting: Meeting, line: Line, manager: Person
) -> None:
    with pytest.raises(NotNow):
        meetings.call_off(meeting=under_way_meeting, actor=manager, now=DURING)


def test_a_question_about_a_late_topic_lapses_with_the_meeting(
    issued_meeting: Meeting, line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    make_topic(line, report, "The whole winter plan", now=now, minutes=35)
    meetings.call_off(meeting=issued_meeting, actor=manager, now=now)
    assert Proposal.objects.get().state == Proposal.State.LAPSED
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).cancelled_at == now


# --- extra


def extra(line: Line, actor: Person, now: dt.datetime, **more: object) -> Meeting:
    values: dict[str, object] = {"day": dt.date(2026, 11, 27), "time": dt.time(9), "minutes": 30, **more}
    return meetings.extra(line=line, actor=actor, now=now, **values)  # type: ignore[arg-type]


def test_an_extra_meeting_leaves_the_grid_alone(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    made = extra(line, manager, now)
    assert (made.is_extra, made.interval, made.confirmed_at) == (True, None, now)
    told = Notice.objects.filter(meeting=made).values_list("kind", "person")
    assert list(told) == [(Notice.Kind.EXTRA, line.report_id)]
    assert made.starts_at == dt.datetime(2026, 11, 27, 9, 0, tzinfo=dt.UTC)
    meeting.refresh_from_db()
    assert meeting.starts_at == STARTS
    meetings.start(meeting=made, actor=manager, now=made.starts_at)
    meetings.close(meeting=made, actor=manager, now=made.starts_at + dt.timedelta(minutes=20))
    assert coming_of(line).pk == meeting.pk
    held = coming_selector.last_held(line)
    assert held is not None
    assert held.held_on == dt.date(2026, 11, 27)


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("day", {"day": dt.date(2026, 11, 25), "time": dt.time(10)}),
        ("minutes", {"minutes": 9}),
        ("minutes", {"minutes": 241}),
    ],
)
def test_an_extra_meeting_in_the_past_or_of_no_length_is_refused(
    line: Line, manager: Person, now: dt.datetime, field: str, more: dict[str, object]
) -> None:
    with pytest.raises((OutOfRange, PastDate)) as refusal:
        extra(line, manager, now, **more)
    assert refusal.value.field == field
    assert line.meetings.count() == 1


def test_the_same_client_key_makes_one_extra_meeting(line: Line, manager: Person, now: dt.datetime) -> None:
    key = uuid4()
    assert extra(line, manager, now, client_key=key) == extra(line, manager, now, client_key=key)
    assert line.meetings.count() == 2


# --- started, gone on with, closed


def test_a_meeting_whose_order_was_never_issued_can_be_started_and_starting_issues_it(
    meeting: Meeting, brought: Brought, manager: Person
) -> None:
    meetings.start(meeting=meeting, actor=manager, now=STARTS)
    order = orders.latest(meeting)
    assert order is not None
    assert (meeting.state, meeting.began_at) == (Meeting.State.UNDER_WAY, STARTS)
    assert (order.cause, order.by) == (Order.Cause.STARTED, manager)
    assert not Notice.objects.filter(kind=Notice.Kind.ISSUED).exists()


def test_only_one_meeting_of_a_line_is_under_way(
    under_way_meeting: Meeting, line: Line, manager: Person
) -> None:
    made = extra(line, manager, DURING, day=dt.date(2026, 12, 4))
    with pytest.raises(AlreadyStarted):
        meetings.start(meeting=made, actor=manager, now=DURING)
    made.refresh_from_db()
    assert made.state == Meeting.State.PLANNED
    assert not made.orders.exists()


def test_going_on_settles_what_was_running(
    under_way_meeting: Meeting, brought: Brought, report: Person
) -> None:
    crane, sheet = placement_of(brought.crane), placement_of(brought.sheet)
    at = STARTS + dt.timedelta(minutes=17)
    meetings.go_on(meeting=under_way_meeting, to=sheet, continues=False, actor=report, now=at)
    crane.refresh_from_db()
    sheet.refresh_from_db()
    assert (crane.outcome, crane.ended_at) == (Placement.Outcome.DISCUSSED, at)
    assert (under_way_meeting.current, sheet.began_at) == (sheet, at)
    assert Topic.objects.get(pk=brought.crane.pk).state == Topic.State.FINISHED


def test_going_on_twice_from_the_same_topic_is_refused_the_second_time(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    seen_by_other = Meeting.objects.get(pk=under_way_meeting.pk)
    sheet, sundays = placement_of(brought.sheet), placement_of(brought.sundays)
    meetings.go_on(meeting=under_way_meeting, to=sheet, continues=False, actor=manager, now=DURING)
    with pytest.raises(NotNow):
        meetings.go_on(meeting=seen_by_other, to=sundays, continues=False, actor=report, now=DURING)
    under_way_meeting.refresh_from_db()
    assert under_way_meeting.current == sheet


def test_of_two_who_take_up_the_first_topic_at_once_the_second_is_told(
    issued_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    meetings.start(meeting=issued_meeting, actor=manager, now=STARTS)
    seen_by_other = Meeting.objects.get(pk=issued_meeting.pk)
    sheet, sundays = placement_of(brought.sheet), placement_of(brought.sundays)
    meetings.go_on(meeting=issued_meeting, to=sheet, continues=False, actor=manager, now=STARTS)
    with pytest.raises(NotNow):
        meetings.go_on(meeting=seen_by_other, to=sundays, continues=False, actor=report, now=STARTS)
    sundays.refresh_from_db()
    assert sundays.began_at is None


def test_only_a_topic_of_this_meeting_that_is_still_to_come_is_taken_up(
    under_way_meeting: Meeting, brought: Brought, peer_line: Line, manager: Person
) -> None:
    elsewhere = placement_of(make_topic(peer_line, manager))
    running = placement_of(brought.crane)
    for wrong in (elsewhere, running):
        with pytest.raises(NotNow):
            meetings.go_on(meeting=under_way_meeting, to=wrong, continues=False, actor=manager, now=DURING)
    running.refresh_from_db()
    assert running.outcome == Placement.Outcome.UNDECIDED


def test_closing_holds_the_meeting_on_the_day_it_began_and_keeps_the_record(
    closed_meeting: Meeting, brought: Brought, next_meeting: Meeting
) -> None:
    assert (closed_meeting.state, closed_meeting.held_on) == ("closed", dt.date(2026, 12, 3))
    assert (closed_meeting.closed_at, closed_meeting.ended_at) == (CLOSED, CLOSED)
    assert closed_meeting.record_at == dt.datetime(2026, 12, 7, 12, 0, tzinfo=dt.UTC)
    assert closed_meeting.snapshot.at == CLOSED
    assert next_meeting.starts_at == NEXT
    assert undecided_at(next_meeting) == titles_of(brought) - {brought.crane.title, brought.sheet.title}


def test_a_meeting_that_began_a_day_late_was_held_that_day(
    meeting: Meeting, brought: Brought, manager: Person
) -> None:
    began = dt.datetime(2026, 12, 4, 15, 0, tzinfo=dt.UTC)
    meetings.start(meeting=meeting, actor=manager, now=began)
    meetings.close(meeting=meeting, actor=manager, now=began + dt.timedelta(minutes=30))
    assert meeting.held_on == dt.date(2026, 12, 4)
    assert meeting.record_at == dt.datetime(2026, 12, 8, 12, 0, tzinfo=dt.UTC)


def test_a_commitment_not_done_at_closing_is_carried_and_counted_once_its_date_has_passed(
    closed_meeting: Meeting, next_meeting: Meeting, taken_on: TakenOn, manager: Person
) -> None:
    carrying.carry(meeting=closed_meeting, now=CLOSED)
    first = taken_on.managers.carries.get()
    assert (first.cause, first.from_meeting, first.to_meeting) == ("closed", closed_meeting, next_meeting)
    assert times_carried(taken_on.managers, manager, CLOSED) == 0
    meetings.start(meeting=next_meeting, actor=manager, now=NEXT)
    meetings.close(meeting=next_meeting, actor=manager, now=NEXT + dt.timedelta(minutes=40))
    carrying.carry(meeting=next_meeting, now=NEXT + dt.timedelta(minutes=40))
    assert times_carried(taken_on.managers, manager, NEXT) == 1


def test_only_a_meeting_under_way_is_closed(meeting: Meeting, manager: Person) -> None:
    with pytest.raises(NotNow):
        meetings.close(meeting=meeting, actor=manager, now=CLOSED)


def test_of_two_who_close_it_at_once_both_have_it_closed_and_the_first_time_stays(
    closed_meeting: Meeting, report: Person
) -> None:
    before: dict[str, object] = {**Meeting.objects.values().get(pk=closed_meeting.pk)}
    again = meetings.close(meeting=closed_meeting, actor=report, now=CLOSED + dt.timedelta(seconds=1))
    assert again.state == Meeting.State.CLOSED
    after: dict[str, object] = {**Meeting.objects.values().get(pk=closed_meeting.pk)}
    assert {name for name in before if before[name] != after[name]} <= {"seq"}


def test_of_two_who_go_on_to_the_same_topic_at_once_both_are_there(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    sheet, version = placement_of(brought.sheet), under_way_meeting.version
    seen_by_other = Meeting.objects.get(pk=under_way_meeting.pk)
    for meeting, actor in ((under_way_meeting, manager), (seen_by_other, report)):
        meetings.go_on(meeting=meeting, to=sheet, continues=False, actor=actor, now=DURING, version=version)
        assert meeting.current == sheet
    assert Meeting.objects.get(pk=under_way_meeting.pk).version == version + 1


def test_what_one_of_two_who_go_on_at_once_keeps_for_next_time_is_kept(
    under_way_meeting: Meeting, brought: Brought, manager: Person, report: Person
) -> None:
    crane, sheet = placement_of(brought.crane), placement_of(brought.sheet)
    version = under_way_meeting.version
    for continues, actor in ((False, manager), (True, report)):
        meetings.go_on(
            meeting=Meeting.objects.get(pk=under_way_meeting.pk),
            to=sheet,
            continues=continues,
            actor=actor,
            now=DURING,
            version=version,
        )
    crane.refresh_from_db()
    assert crane.outcome == Placement.Outcome.CONTINUES
    assert Topic.objects.get(pk=brought.crane.pk).state == Topic.State.OPEN
