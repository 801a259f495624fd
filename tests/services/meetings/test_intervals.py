"""Intervals: what is refused, and what a proposal from either side changes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from accounts.models import Person
from oneonone.models import Interval, Line, Meeting, Move, Proposal, Side
from oneonone.models.owed import Notice
from oneonone.services.lines import lines
from oneonone.services.meetings import coming_meetings, intervals, meetings
from oneonone.services.refusals import NotNow, OutOfRange, PastNextMeeting, TooLong
from tests.scene import MADE, QUARTERLY, WEEKLY, Brought, coming_of, make_line

MONTHLY = replace(QUARTERLY, every=1, unit="months", weekday=None)


@pytest.mark.parametrize(
    ("field", "terms"),
    [
        ("minutes", replace(QUARTERLY, minutes=9)),
        ("minutes", replace(QUARTERLY, minutes=241)),
        ("every", replace(QUARTERLY, every=0)),
        ("every", replace(QUARTERLY, every=53)),
        ("every", replace(QUARTERLY, unit="months", weekday=None, every=13)),
        ("every", replace(QUARTERLY, unit="days")),
        ("zone", replace(QUARTERLY, zone="Europe/Atlantis")),
        ("zone", replace(QUARTERLY, zone="")),
        ("call_link", replace(QUARTERLY, call_link="javascript:alert(1)")),
        ("call_link", replace(QUARTERLY, call_link="the blue room")),
        ("weekday", replace(QUARTERLY, weekday=8)),
        ("ordinal", replace(QUARTERLY, ordinal=1)),
        ("ordinal", replace(MONTHLY, weekday=1)),
        ("ordinal", replace(MONTHLY, weekday=1, ordinal=6)),
        ("ordinal", replace(MONTHLY, weekday=1, ordinal=5, every=2)),
        ("day", replace(MONTHLY, day=32)),
        ("day", replace(MONTHLY, day=3, last_working_day=True)),
        ("second_day", replace(MONTHLY, day=3, second_day=8)),
        ("last_working_day", replace(QUARTERLY, last_working_day=True)),
        ("anchor", replace(QUARTERLY, anchor=dt.date(1, 1, 1))),
    ],
)
def test_terms_that_make_no_grid_are_refused_by_field(field: str, terms: intervals.Terms) -> None:
    with pytest.raises(OutOfRange) as refusal:
        intervals.checked(terms)
    assert refusal.value.field == field
    assert str(refusal.value.accepted)


def test_a_place_over_its_limit_is_refused() -> None:
    with pytest.raises(TooLong) as refusal:
        intervals.checked(replace(QUARTERLY, place="x" * 201))
    assert refusal.value.field == "place"


@pytest.mark.parametrize("minutes", [10, 240])
def test_the_shortest_and_the_longest_meeting_are_taken(minutes: int) -> None:
    assert intervals.checked(replace(QUARTERLY, minutes=minutes)).minutes == minutes


@pytest.mark.parametrize(
    ("terms", "starts_at"),
    [
        (replace(QUARTERLY, weekday=None), dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)),
        (MONTHLY, dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)),
        (replace(MONTHLY, weekday=2, ordinal=1), dt.datetime(2027, 1, 5, 10, 0, tzinfo=dt.UTC)),
        (replace(MONTHLY, last_working_day=True), dt.datetime(2026, 12, 31, 10, 0, tzinfo=dt.UTC)),
        (replace(MONTHLY, day=4, second_day=18), dt.datetime(2026, 12, 4, 10, 0, tzinfo=dt.UTC)),
    ],
)
def test_every_way_to_choose_the_day_makes_a_first_meeting(
    manager: Person, report: Person, terms: intervals.Terms, starts_at: dt.datetime
) -> None:
    assert coming_of(make_line(manager, report, terms=terms)).starts_at == starts_at


def test_the_first_interval_counts_as_agreed(line: Line) -> None:
    interval = line.intervals.get()
    assert (interval.agreed_at, interval.effective_from) == (MADE, MADE.date())


def propose(line: Line, actor: Person, now: dt.datetime, terms: intervals.Terms = WEEKLY) -> Proposal:
    return intervals.propose(line=line, terms=terms, actor=actor, now=now, today=now.date())


def answer(proposal: Proposal, actor: Person, now: dt.datetime, *, accept: bool) -> Proposal:
    return intervals.answer(proposal=proposal, accept=accept, actor=actor, now=now, today=now.date())


def test_the_managers_proposal_takes_effect_at_once_and_is_not_agreed_yet(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    proposal = propose(line, manager, now)
    assert proposal.state == Proposal.State.OPEN
    assert proposal.interval is not None
    assert (proposal.interval.effective_from, proposal.interval.agreed_at) == (now.date(), None)
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).person == report


def test_a_confirmed_coming_meeting_keeps_its_day_key_topics_and_uid_and_the_new_grid_starts_after_it(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    Meeting.objects.filter(pk=meeting.pk).update(confirmed_at=now)
    propose(line, manager, now)
    same = coming_of(line)
    assert (same.pk, same.uid, same.occurrence_key) == (meeting.pk, meeting.uid, meeting.occurrence_key)
    assert same.starts_at == meeting.starts_at
    assert same.placements.count() == 5
    day_after = dt.datetime(2026, 12, 3, 11, 0, tzinfo=dt.UTC)
    following = coming_meetings.ensure(line=line, now=day_after)
    assert following is not None
    assert following.starts_at == dt.datetime(2026, 12, 9, 10, 0, tzinfo=dt.UTC)
    assert following.minutes == 30


FIRST = replace(QUARTERLY, every=4, anchor=dt.date(2026, 12, 10), time=dt.time(14, 0), minutes=40)
FIRST_AT = dt.datetime(2026, 12, 10, 14, 0, tzinfo=dt.UTC)


def test_the_managers_proposal_moves_the_coming_meeting_to_the_first_date_at_once(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, report: Person, now: dt.datetime
) -> None:
    propose(line, manager, now, FIRST)
    moved = coming_of(line)
    assert (moved.pk, moved.uid, moved.starts_at) == (meeting.pk, meeting.uid, FIRST_AT)
    assert (moved.minutes, moved.schedule_version, moved.confirmed_at) == (40, 2, None)
    assert moved.placements.count() == 5
    told = Notice.objects.filter(kind=Notice.Kind.MOVED)
    assert [(n.person, n.schedule_version) for n in told] == [(report, 2)]
    assert Move.objects.get().to_start == FIRST_AT


def test_a_refusal_restores_the_old_dates(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    answer(propose(line, manager, now, FIRST), report, now, accept=False)
    again = coming_of(line)
    was = (meeting.pk, meeting.starts_at, meeting.minutes, meeting.interval_id, meeting.occurrence_key)
    assert (again.pk, again.starts_at, again.minutes, again.interval_id, again.occurrence_key) == was
    meetings.start(meeting=again, actor=manager, now=again.starts_at)
    meetings.close(meeting=again, actor=manager, now=again.starts_at + dt.timedelta(minutes=50))
    assert coming_of(line).starts_at == dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)


def test_a_proposal_that_takes_the_place_of_another_leaves_only_what_was_agreed_behind(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    propose(line, manager, now, FIRST)
    second = propose(line, manager, now, replace(FIRST, anchor=dt.date(2026, 12, 17)))
    assert coming_of(line).starts_at == dt.datetime(2026, 12, 17, 14, 0, tzinfo=dt.UTC)
    answer(second, report, now, accept=False)
    assert coming_of(line).starts_at == meeting.starts_at


def test_a_proposal_in_return_declines_the_other_sides_and_restores_its_dates(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    first = propose(line, manager, now, FIRST)
    second = propose(line, report, now, replace(FIRST, every=6))
    first.refresh_from_db()
    assert (first.state, second.state) == (Proposal.State.DECLINED, Proposal.State.OPEN)
    assert coming_of(line).starts_at == meeting.starts_at
    third = propose(line, manager, now, FIRST)
    second.refresh_from_db()
    assert (second.state, third.state) == (Proposal.State.DECLINED, Proposal.State.OPEN)
    assert coming_of(line).starts_at == FIRST_AT


def test_the_reports_proposal_moves_the_coming_meeting_once_the_manager_accepts(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    proposal = propose(line, report, now, FIRST)
    assert coming_of(line).starts_at == meeting.starts_at
    answer(proposal, manager, now, accept=True)
    assert coming_of(line).starts_at == FIRST_AT
    assert Notice.objects.get(kind=Notice.Kind.MOVED).person == report


def test_a_meeting_that_was_confirmed_under_a_refused_interval_keeps_its_day_and_the_old_grid_goes_on(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    proposal = propose(line, manager, now, FIRST)
    moved = coming_of(line)
    to = dt.datetime(2026, 12, 11, 9, 0, tzinfo=dt.UTC)
    meetings.move(meeting=moved, starts_at=to, actor=manager, now=now)
    answer(proposal, report, now, accept=False)
    moved.refresh_from_db()
    assert (moved.starts_at, moved.interval_id) == (to, meeting.interval_id)
    meetings.start(meeting=moved, actor=manager, now=to)
    meetings.close(meeting=moved, actor=manager, now=to + dt.timedelta(minutes=30))
    assert coming_of(line).starts_at == dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)


def test_a_refusal_after_a_meeting_was_held_under_it_goes_on_by_the_old_grid(
    line: Line, meeting: Meeting, manager: Person, report: Person, now: dt.datetime
) -> None:
    sooner = replace(FIRST, anchor=dt.date(2026, 12, 1), weekday=2)
    proposal = propose(line, manager, now, sooner)
    held = coming_of(line)
    assert held.starts_at == dt.datetime(2026, 12, 1, 14, 0, tzinfo=dt.UTC)
    meetings.start(meeting=held, actor=manager, now=held.starts_at)
    meetings.close(meeting=held, actor=manager, now=held.starts_at + dt.timedelta(minutes=30))
    assert coming_of(line).starts_at == dt.datetime(2026, 12, 29, 14, 0, tzinfo=dt.UTC)
    answer(proposal, report, held.starts_at + dt.timedelta(hours=1), accept=False)
    assert coming_of(line).pk not in (held.pk, meeting.pk)
    assert coming_of(line).starts_at == dt.datetime(2026, 12, 3, 10, 0, tzinfo=dt.UTC)


def test_a_yes_makes_the_managers_interval_the_agreed_one_and_a_no_leaves_the_dates(
    line: Line, peer_line: Line, manager: Person, report: Person, peer: Person, now: dt.datetime
) -> None:
    later = now + dt.timedelta(hours=1)
    yes = answer(propose(line, manager, now), report, later, accept=True)
    no = answer(propose(peer_line, manager, now), peer, later, accept=False)
    assert yes.interval is not None
    assert Interval.objects.get(pk=yes.interval.pk).agreed_at == later
    assert no.state == Proposal.State.DECLINED
    assert peer_line.intervals.count() == 2
    assert peer_line.intervals.filter(agreed_at__isnull=False).count() == 1


def test_the_reports_proposal_changes_nothing_until_the_manager_accepts(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    proposal = propose(line, report, now)
    assert line.intervals.count() == 1
    later = now + dt.timedelta(days=1)
    answer(proposal, manager, later, accept=True)
    interval = line.intervals.latest("proposed_at")
    assert (interval.every, interval.weekday, interval.minutes) == (1, 3, 30)
    assert (interval.effective_from, interval.agreed_at) == (later.date(), later)
    assert interval.proposed_by == report


def test_a_declined_proposal_of_the_reports_leaves_no_trace_in_the_grid(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    answer(propose(line, report, now), manager, now, accept=False)
    assert line.intervals.count() == 1


def test_an_answer_is_given_once_and_is_no_longer_waited_for(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    proposal = propose(line, report, now)
    answer(proposal, manager, now, accept=True)
    with pytest.raises(NotNow):
        answer(proposal, manager, now, accept=False)
    assert Notice.objects.get(kind=Notice.Kind.PROPOSAL).cancelled_at == now


def test_a_second_proposal_of_the_same_side_takes_the_first_back(
    line: Line, report: Person, now: dt.datetime
) -> None:
    first = propose(line, report, now)
    second = propose(line, report, now + dt.timedelta(hours=1), replace(WEEKLY, every=2))
    first.refresh_from_db()
    assert (first.state, second.state) == (Proposal.State.WITHDRAWN, Proposal.State.OPEN)
    waiting = Notice.objects.filter(kind=Notice.Kind.PROPOSAL, cancelled_at__isnull=True)
    assert [notice.subject for notice in waiting] == [second.pk]


def test_while_nobody_has_joined_the_other_side_there_is_nobody_to_ask(
    manager: Person, now: dt.datetime
) -> None:
    asked = lines.Invited(name="Yusuf Adeyemi", email="yusuf@example.org", side=Side.REPORT)
    line = lines.create(
        actor=manager, now=MADE, today=MADE.date(), terms=QUARTERLY, manager=manager, invited=asked
    ).line
    proposal = propose(line, manager, now)
    assert proposal.state == Proposal.State.ACCEPTED
    assert proposal.interval is not None
    assert proposal.interval.agreed_at == now


def test_an_ended_line_takes_no_proposal(former_line: Line, former_manager: Person, now: dt.datetime) -> None:
    with pytest.raises(NotNow):
        propose(former_line, former_manager, now)


def test_bad_terms_change_nothing(line: Line, manager: Person, now: dt.datetime) -> None:
    with pytest.raises(OutOfRange):
        propose(line, manager, now, replace(WEEKLY, minutes=5))
    assert line.intervals.count() == 1
    assert not line.proposals.exists()


def test_a_move_may_not_pass_a_meeting_that_the_new_grid_has_made(
    line: Line, meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    propose(line, manager, now)
    unstarted = dt.datetime(2026, 12, 3, 12, 0, tzinfo=dt.UTC)
    coming_meetings.ensure(line=line, now=unstarted)
    with pytest.raises(PastNextMeeting):
        meetings.move(
            meeting=meeting,
            starts_at=dt.datetime(2026, 12, 9, 9, 0, tzinfo=dt.UTC),
            actor=manager,
            now=unstarted,
        )
