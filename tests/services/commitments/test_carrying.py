"""Undone commitments come back by themselves: once from each meeting, counted, the original date kept."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Person
from oneonone.models import Carry, Commitment, Line, Meeting, Notice, Placement, Side
from oneonone.selectors.commitments import commitments as own
from oneonone.selectors.notices import notices as notices_selector
from oneonone.services.agenda import issuing
from oneonone.services.commitments import carry_targets, carrying, commitment_jobs, commitments, due_dates
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims, meetings
from tests.scene import (
    AFTER,
    CLOSED,
    STARTS,
    WEEKLY,
    TakenOn,
    coming_of,
    make_line,
    make_topic,
    placement_of,
)

pytestmark = pytest.mark.django_db
MONDAY = dt.datetime(2026, 11, 30, 9, 0, tzinfo=dt.UTC)


def carry_all(now: dt.datetime) -> int:
    count = 0
    while commitment_jobs.CARRY.do_one(now):
        count += 1
    return count


def hold(line: Line, actor: Person) -> Meeting:
    """Hold the coming meeting of a line on its day, from start to close, and let the job carry."""
    meeting = coming_of(line)
    meetings.start(meeting=meeting, actor=actor, now=meeting.starts_at)
    closed = meeting.starts_at + dt.timedelta(minutes=30)
    meetings.close(meeting=meeting, actor=actor, now=closed)
    carry_all(closed)
    return meeting


def promise(line: Line, actor: Person, date: dt.date, now: dt.datetime = MONDAY) -> Commitment:
    return commitments.take_on(
        line=line,
        owner_side=line.side_of(actor) or Side.MANAGER,
        action="Order the winter oil",
        how_known="",
        date=date,
        actor=actor,
        now=now,
    )


@pytest.fixture
def weekly(manager: Person, report: Person) -> Line:
    """Ines and Tomas, every Wednesday from 2 December, made on the Monday before."""
    return make_line(manager, report, terms=WEEKLY, now=MONDAY)


def times_carried(owner: Person, now: dt.datetime = AFTER) -> list[int]:
    return [view.times_carried for view in own.mine(owner, now=now)]


def test_what_is_open_when_a_meeting_closes_appears_at_the_next(
    closed_meeting: Meeting, taken_on: TakenOn, next_meeting: Meeting
) -> None:
    assert carry_all(AFTER) == 1
    rows = Carry.objects.filter(from_meeting=closed_meeting)
    assert {row.commitment_id for row in rows} == {
        taken_on.managers.pk,
        taken_on.reports.pk,
        taken_on.offered.pk,
    }
    assert {row.to_meeting_id for row in rows} == {next_meeting.pk}
    assert {(row.cause, row.at) for row in rows} == {("closed", AFTER)}
    taken_on.managers.refresh_from_db()
    assert taken_on.managers.original_date == dt.date(2026, 12, 17)


def test_carrying_twice_changes_nothing(closed_meeting: Meeting) -> None:
    carry_all(AFTER)
    before = list(Carry.objects.order_by("pk").values())
    assert carry_all(AFTER) == 0
    assert carrying.carry(meeting=closed_meeting, now=AFTER) is False
    assert list(Carry.objects.order_by("pk").values()) == before


def test_even_without_the_claim_the_unique_key_keeps_one_carry_a_meeting(closed_meeting: Meeting) -> None:
    carry_all(AFTER)
    count = Carry.objects.count()
    Meeting.objects.filter(pk=closed_meeting.pk).update(carried_at=None)
    carry_all(AFTER)
    assert Carry.objects.count() == count == 3


def test_what_was_settled_or_taken_on_only_after_the_meeting_is_not_carried_from_it(
    closed_meeting: Meeting, taken_on: TakenOn, manager: Person
) -> None:
    commitments.done(commitment=taken_on.managers, actor=manager, now=CLOSED)
    later = promise(closed_meeting.line, manager, dt.date(2026, 12, 20), now=AFTER)
    carry_all(AFTER)
    carried = set(Carry.objects.values_list("commitment", flat=True))
    assert carried == {taken_on.reports.pk, taken_on.offered.pk}
    assert later.pk not in carried


def test_only_a_meeting_held_after_the_date_had_passed_counts(weekly: Line, manager: Person) -> None:
    """Meetings on 2, 9, 16 and 23 December; the date is the 9th, which still holds on that day."""
    commitment = promise(weekly, manager, dt.date(2026, 12, 9))
    counts = []
    for _week in range(4):
        hold(weekly, manager)
        counts.append(times_carried(manager)[0])
    assert counts == [0, 0, 1, 2]
    assert Carry.objects.filter(commitment=commitment).count() == 4
    commitment.refresh_from_db()
    assert commitment.original_date == commitment.current_date == dt.date(2026, 12, 9)


def test_a_weekly_line_with_a_date_six_weeks_off_nags_nobody(weekly: Line, manager: Person) -> None:
    promise(weekly, manager, dt.date(2027, 1, 11))
    for _week in range(5):
        hold(weekly, manager)
    assert times_carried(manager) == [0]


def test_from_the_second_time_on_the_owner_is_asked_to_choose(weekly: Line, manager: Person) -> None:
    promise(weekly, manager, dt.date(2026, 12, 1))
    hold(weekly, manager)
    assert not own.mine(manager, now=AFTER)[0].asks_choice
    hold(weekly, manager)
    assert own.mine(manager, now=AFTER)[0].asks_choice


def test_a_new_date_ends_the_counting_until_it_has_passed_too(weekly: Line, manager: Person) -> None:
    commitment = promise(weekly, manager, dt.date(2026, 12, 1))
    hold(weekly, manager)
    due_dates.change_date(
        commitment=commitment,
        date=dt.date(2026, 12, 31),
        version=commitment.version,
        actor=manager,
        now=dt.datetime(2026, 12, 3, 9, 0, tzinfo=dt.UTC),
    )
    hold(weekly, manager)
    assert times_carried(manager) == [1]


def test_a_meeting_called_off_carries_and_counts_for_nothing(weekly: Line, manager: Person) -> None:
    promise(weekly, manager, dt.date(2026, 12, 1))
    meeting = coming_of(weekly)
    following = meetings.call_off(meeting=meeting, actor=manager, now=MONDAY)
    carry_all(MONDAY)
    row = Carry.objects.get()
    assert (row.cause, row.from_meeting, row.to_meeting) == ("called_off", meeting, following)
    assert times_carried(manager) == [0]


def test_a_meeting_nobody_answered_about_counts_once_it_turns_out_to_have_been_held(
    weekly: Line, manager: Person
) -> None:
    promise(weekly, manager, dt.date(2026, 12, 1))
    meeting = coming_of(weekly)
    later = dt.datetime(2026, 12, 7, 9, 0, tzinfo=dt.UTC)
    held_claims.give_up(meeting=meeting, now=later)
    carry_all(later)
    assert Carry.objects.get().cause == Carry.Cause.NOT_HELD
    assert times_carried(manager, later) == [0]
    held_claims.we_met(
        line=weekly,
        day=dt.date(2026, 12, 2),
        meeting=meeting,
        discussed=[],
        actor=manager,
        now=later,
        today=later.date(),
    )
    assert Carry.objects.get().cause == Carry.Cause.CLOSED
    assert times_carried(manager, later) == [1]


def test_one_left_under_way_gives_up_its_commitments_without_being_closed(
    under_way_meeting: Meeting, taken_on: TakenOn
) -> None:
    later = dt.datetime(2027, 2, 20, 9, 0, tzinfo=dt.UTC)
    assert carry_all(later) == 0
    held_claims.give_up(meeting=under_way_meeting, now=later)
    carry_all(later)
    assert set(Carry.objects.values_list("cause", flat=True)) == {"not_held"}
    under_way_meeting.refresh_from_db()
    assert under_way_meeting.state == Meeting.State.UNDER_WAY


def test_when_the_line_ends_the_commitments_wait_with_their_owners(
    meeting: Meeting, manager: Person, administrator: Person, now: dt.datetime
) -> None:
    promise(meeting.line, manager, dt.date(2026, 12, 10), now=now)
    lines.end(line=meeting.line, actor=administrator, now=now, today=now.date())
    carry_all(now)
    row = Carry.objects.get()
    assert (row.cause, row.to_meeting) == (Carry.Cause.ENDED, None)
    assert not carry_targets.waiting(now).exists()


def test_a_carry_waits_for_a_meeting_and_gets_the_first_that_comes(weekly: Line, manager: Person) -> None:
    promise(weekly, manager, dt.date(2026, 12, 1))
    pause = lines.pause(
        line=weekly, first=dt.date(2026, 12, 1), last=None, actor=manager, now=MONDAY, today=MONDAY.date()
    )
    assert pause.last is None
    carry_all(MONDAY)
    assert Carry.objects.get().to_meeting is None
    assert commitment_jobs.AIM.do_one(MONDAY) is False
    lines.resume(
        line=weekly,
        actor=manager,
        now=dt.datetime(2026, 12, 14, 9, 0, tzinfo=dt.UTC),
        today=dt.date(2026, 12, 14),
    )
    assert Carry.objects.get().to_meeting == coming_of(weekly)
    assert commitment_jobs.AIM.do_one(AFTER) is False


def test_a_carry_that_missed_its_meeting_is_repaired(
    closed_meeting: Meeting, next_meeting: Meeting, taken_on: TakenOn
) -> None:
    carry_all(AFTER)
    Carry.objects.update(to_meeting=None)
    assert commitment_jobs.AIM.do_one(AFTER) is True
    assert set(Carry.objects.values_list("to_meeting", flat=True)) == {next_meeting.pk}
    assert commitment_jobs.AIM.do_one(AFTER) is False


def test_an_earlier_meeting_put_in_takes_over_what_waits_until_it_is_issued(
    closed_meeting: Meeting, next_meeting: Meeting, manager: Person
) -> None:
    carry_all(AFTER)
    assert not carry_targets.waiting(AFTER).exists()
    extra = meetings.extra(
        line=closed_meeting.line,
        day=dt.date(2027, 1, 14),
        time=dt.time(10, 0),
        minutes=30,
        actor=manager,
        now=AFTER,
    )
    assert next_meeting.starts_at > extra.starts_at
    assert set(Carry.objects.values_list("to_meeting", flat=True)) == {extra.pk}
    assert commitment_jobs.AIM.do_one(AFTER) is False
    issuing.issue(meeting=extra, actor=manager, now=AFTER)
    meetings.extra(
        line=closed_meeting.line,
        day=dt.date(2027, 1, 7),
        time=dt.time(10, 0),
        minutes=30,
        actor=manager,
        now=AFTER,
    )
    assert commitment_jobs.AIM.do_one(AFTER) is False


def test_a_topic_unheard_for_the_third_time_in_meetings_that_were_held_is_asked_about_once(
    weekly: Line, manager: Person, report: Person
) -> None:
    topic = make_topic(weekly, report, now=MONDAY)

    def asked() -> list[Person]:
        return [notice.person for notice in Notice.objects.filter(kind="third_time", subject=topic.pk)]

    hold(weekly, manager)
    meetings.call_off(meeting=coming_of(weekly), actor=manager, now=AFTER)
    carry_all(AFTER)
    hold(weekly, manager)
    assert not asked()
    hold(weekly, manager)
    assert set(asked()) == {manager, report}
    hold(weekly, manager)
    assert len(asked()) == 2
    assert Placement.objects.filter(topic=topic, outcome="unheard").count() == 5
    assert placement_of(topic).meeting == coming_of(weekly)


def test_the_database_refuses_a_carry_to_the_meeting_it_came_from(
    closed_meeting: Meeting, taken_on: TakenOn
) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Carry.objects.create(
            commitment=taken_on.managers,
            from_meeting=closed_meeting,
            to_meeting=closed_meeting,
            cause="closed",
            date_then=STARTS.date(),
            at=AFTER,
        )


def choices(person: Person) -> list[str]:
    return list(
        Notice.objects.filter(kind="choice", person=person)
        .order_by("owed_at")
        .values_list("occurrence", flat=True)
    )


def test_from_the_second_time_past_its_date_its_owner_is_asked_what_to_do(
    closed_meeting: Meeting, next_meeting: Meeting, taken_on: TakenOn, manager: Person, report: Person
) -> None:
    """Due on 17 December: at the meeting of 3 December it was not past yet, at the next two it is."""
    carry_all(AFTER)
    assert choices(manager) == []
    line, at = closed_meeting.line, next_meeting.starts_at
    for times in range(2):
        meeting = coming_of(line)
        meetings.start(meeting=meeting, actor=manager, now=meeting.starts_at)
        at = meeting.starts_at + dt.timedelta(minutes=30)
        meetings.close(meeting=meeting, actor=manager, now=at)
        carry_all(at)
        assert len(choices(manager)) == times
    assert choices(manager) == ["carried 2 2026-12-17"]
    (notice,) = Notice.objects.filter(kind="choice", person=manager)
    held = notices_selector.still_owed([notice], reader=manager, now=at)
    assert held == [notice]
    due_dates.keep(
        commitment=Commitment.objects.get(pk=notice.subject), actor=manager, now=at + dt.timedelta(minutes=1)
    )
    notice = Notice.objects.select_related("commitment", "line").get(pk=notice.pk)
    assert notices_selector.still_owed([notice], reader=manager, now=at + dt.timedelta(minutes=1)) == []
    Commitment.objects.update(kept_at=None, current_date=at.date())
    notice = Notice.objects.select_related("commitment", "line").get(pk=notice.pk)
    assert notices_selector.still_owed([notice], reader=manager, now=at) == []
    Commitment.objects.update(current_date=notice.occurrence.rpartition(" ")[2])
    commitments.done(commitment=Commitment.objects.get(pk=notice.subject), actor=manager, now=at)
    assert Notice.objects.get(pk=notice.pk).cancelled_at == at
