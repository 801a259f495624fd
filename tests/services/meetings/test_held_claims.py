"""Whether a meeting was held: said by either side, denied, or never answered."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from accounts.models import Person
from oneonone.models import (
    HeldClaim,
    Line,
    Meeting,
    Move,
    Placement,
    Side,
    Topic,
)
from oneonone.selectors.agenda import agenda_page, planner_input
from oneonone.selectors.dates import coming_meetings as coming_selector
from oneonone.services.commitments import carrying
from oneonone.services.meetings import coming_meetings, held_claims, meetings
from oneonone.services.record import record
from oneonone.services.refusals import (
    NotNow,
    OutOfRange,
    PastDate,
)
from tests.scene import (
    CLOSED,
    DURING,
    MADE,
    STARTS,
    Brought,
    TakenOn,
    coming_of,
    times_carried,
    titles_of,
    undecided_at,
)

NEXT = dt.datetime(2027, 3, 4, 10, 0, tzinfo=dt.UTC)
LONDON = ZoneInfo("Europe/London")


def we_met(
    line: Line,
    actor: Person,
    day: dt.date,
    *,
    meeting: Meeting | None,
    discussed: tuple[Topic, ...] = (),
    now: dt.datetime = dt.datetime(2026, 12, 7, 9, 0, tzinfo=dt.UTC),
    **more: object,
) -> Meeting:
    placements = Placement.objects.filter(topic__in=discussed).values_list("pk", flat=True)
    return held_claims.we_met(
        line=line,
        day=day,
        meeting=meeting,
        discussed=list(placements),
        actor=actor,
        now=now,
        today=now.astimezone(LONDON).date(),
        **more,  # type: ignore[arg-type]
    )


def test_we_met_that_day_holds_the_meeting_and_keeps_what_was_not_heard(
    line: Line, meeting: Meeting, brought: Brought, report: Person
) -> None:
    we_met(line, report, dt.date(2026, 12, 3), meeting=meeting, discussed=(brought.crane,))
    meeting.refresh_from_db()
    assert (meeting.state, meeting.held_on, meeting.ended_at) == ("closed", dt.date(2026, 12, 3), None)
    assert Topic.objects.get(pk=brought.crane.pk).state == Topic.State.FINISHED
    assert undecided_at(coming_of(line)) == titles_of(brought) - {brought.crane.title}
    claim = HeldClaim.objects.get()
    assert (claim.side, claim.held, claim.day) == (Side.REPORT, True, dt.date(2026, 12, 3))
    assert not Move.objects.exists()


def test_we_met_on_another_day_moves_the_meeting_to_it(line: Line, meeting: Meeting, manager: Person) -> None:
    we_met(line, manager, dt.date(2026, 12, 1), meeting=meeting)
    meeting.refresh_from_db()
    assert meeting.held_on == dt.date(2026, 12, 1)
    assert meeting.starts_at == dt.datetime(2026, 12, 1, 10, 0, tzinfo=dt.UTC)
    assert (meeting.schedule_version, Move.objects.get().from_start) == (2, STARTS)


def test_we_met_outside_the_interval_is_a_meeting_of_its_own(
    line: Line, meeting: Meeting, brought: Brought, manager: Person, now: dt.datetime
) -> None:
    held = we_met(line, manager, dt.date(2026, 11, 20), meeting=None, discussed=(brought.sundays,), now=now)
    meeting.refresh_from_db()
    assert (held.is_extra, held.state, held.held_on) == (True, "closed", dt.date(2026, 11, 20))
    assert meeting.state == Meeting.State.PLANNED
    assert Topic.objects.get(pk=brought.sundays.pk).state == Topic.State.FINISHED
    assert held.placements.get().topic == brought.sundays
    assert undecided_at(meeting) == titles_of(brought) - {brought.sundays.title}


def test_a_meeting_held_on_paper_can_be_written_up_from_when_somebody_says_so(
    line: Line, meeting: Meeting, manager: Person, report: Person
) -> None:
    """Two working days from Monday the 14th, though the two after Thursday the 3rd are long over."""
    said_at = dt.datetime(2026, 12, 14, 9, 0, tzinfo=dt.UTC)
    held = we_met(line, manager, dt.date(2026, 12, 3), meeting=meeting, now=said_at)
    assert held.record_at == dt.datetime(2026, 12, 16, 12, 0, tzinfo=dt.UTC)
    written = record.write(meeting=held, kind="decided", words="A crane in May.", actor=report, now=said_at)
    assert written.author == report


def test_a_topic_that_is_being_discussed_was_not_heard_at_another_meeting(
    line: Line, under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    """Taken off the agenda while it runs it could never be left, nor the meeting be closed."""
    with pytest.raises(NotNow) as refusal:
        we_met(line, manager, dt.date(2026, 12, 1), meeting=None, discussed=(brought.crane,), now=DURING)
    assert refusal.value.field == "discussed"
    meetings.close(meeting=under_way_meeting, actor=manager, now=CLOSED)
    assert Topic.objects.get(pk=brought.crane.pk).state == Topic.State.FINISHED


def test_the_same_client_key_holds_one_meeting(line: Line, manager: Person, now: dt.datetime) -> None:
    key = uuid4()
    day = dt.date(2026, 11, 20)
    first = we_met(line, manager, day, meeting=None, now=now, client_key=key)
    assert we_met(line, manager, day, meeting=None, now=now, client_key=key) == first
    assert line.meetings.filter(state=Meeting.State.CLOSED).count() == 1


@pytest.mark.parametrize(
    ("day", "refused"),
    [(dt.date(2026, 12, 8), PastDate), (dt.date(2026, 9, 6), OutOfRange)],
)
def test_a_day_ahead_or_before_the_line_began_is_refused(
    line: Line, meeting: Meeting, manager: Person, day: dt.date, refused: type[OutOfRange]
) -> None:
    with pytest.raises(refused) as refusal:
        we_met(line, manager, day, meeting=meeting)
    assert refusal.value.field == "day"


def test_a_no_of_the_other_side_makes_it_not_held_for_whoever_looks_from_above(
    line: Line, meeting: Meeting, manager: Person, report: Person
) -> None:
    we_met(line, manager, dt.date(2026, 12, 3), meeting=meeting)
    assert coming_selector.last_held(line) == meeting
    following = coming_of(line)
    assert agenda_page.head(manager, following).nth == 2
    held_claims.say(meeting=meeting, side=Side.REPORT, held=False, day=None, actor=report, now=CLOSED)
    assert coming_selector.last_held(line) is None
    assert agenda_page.head(manager, following).nth == 1


def test_nothing_is_claimed_of_a_meeting_that_is_not_held(meeting: Meeting, report: Person) -> None:
    with pytest.raises(NotNow):
        held_claims.say(meeting=meeting, side=Side.REPORT, held=False, day=None, actor=report, now=CLOSED)


@pytest.mark.parametrize(
    ("day", "likely"),
    [
        (dt.date(2026, 12, 1), True),
        (dt.date(2026, 10, 19), True),
        (dt.date(2026, 10, 18), False),
    ],
)
def test_yes_is_offered_when_the_day_is_nearer_than_half_an_interval(
    line: Line, meeting: Meeting, day: dt.date, likely: bool
) -> None:
    # 13 weeks are 91 days: 45 days from 3 December is 19 October.
    assert held_claims.nearest_for(line=line, day=day) == (meeting, likely)


# --- never answered, left under way


LATER = dt.datetime(2027, 2, 18, 9, 0, tzinfo=dt.UTC)


def test_a_meeting_nobody_answered_for_is_not_held_and_its_topics_go_on(
    line: Line, meeting: Meeting, brought: Brought
) -> None:
    held_claims.give_up(meeting=meeting, now=LATER)
    assert (meeting.state, meeting.given_up_at) == (Meeting.State.NOT_HELD, LATER)
    assert undecided_at(coming_of(line)) == titles_of(brought)
    assert coming_of(line).starts_at == NEXT
    assert planner_input.times_unheard([brought.crane.pk]) == {}


def test_not_held_is_taken_back_by_saying_that_we_met(
    line: Line, meeting: Meeting, brought: Brought, manager: Person
) -> None:
    held_claims.give_up(meeting=meeting, now=LATER)
    heard = Placement.objects.filter(meeting=meeting, topic=brought.crane)
    held_claims.we_met(
        line=line,
        day=dt.date(2026, 12, 3),
        meeting=meeting,
        discussed=[heard.get().pk],
        actor=manager,
        now=LATER,
        today=LATER.date(),
    )
    assert (meeting.state, meeting.held_on) == (Meeting.State.CLOSED, dt.date(2026, 12, 3))
    assert heard.get().outcome == Placement.Outcome.DISCUSSED
    assert Topic.objects.get(pk=brought.crane.pk).state == Topic.State.FINISHED
    assert undecided_at(coming_of(line)) == titles_of(brought) - {brought.crane.title}
    assert planner_input.times_unheard([brought.licence.pk]) == {brought.licence.pk: 1}


def test_commitments_carried_from_a_meeting_not_held_count_once_it_was_held_after_all(
    closed_meeting: Meeting, next_meeting: Meeting, taken_on: TakenOn, manager: Person
) -> None:
    later = dt.datetime(2027, 5, 20, 9, 0, tzinfo=dt.UTC)
    held_claims.give_up(meeting=next_meeting, now=later)
    carrying.carry(meeting=next_meeting, now=later)
    assert taken_on.managers.carries.get().cause == "not_held"
    we_met(next_meeting.line, manager, dt.date(2027, 3, 4), meeting=next_meeting, now=later)
    assert times_carried(taken_on.managers, manager, later) == 1


def test_a_meeting_left_under_way_gives_its_topics_up_and_is_not_closed(
    under_way_meeting: Meeting, brought: Brought, taken_on: TakenOn
) -> None:
    held_claims.give_up(meeting=under_way_meeting, now=LATER)
    carrying.carry(meeting=under_way_meeting, now=LATER)
    following = coming_of(under_way_meeting.line)
    assert (under_way_meeting.state, under_way_meeting.current) == (Meeting.State.UNDER_WAY, None)
    assert undecided_at(following) == titles_of(brought)
    assert taken_on.reports.carries.get().to_meeting == following


def test_another_meeting_may_start_beside_one_that_was_given_up(
    under_way_meeting: Meeting, manager: Person
) -> None:
    held_claims.give_up(meeting=under_way_meeting, now=LATER)
    following = coming_of(under_way_meeting.line)
    meetings.start(meeting=following, actor=manager, now=NEXT)
    assert following.state == Meeting.State.UNDER_WAY


def test_one_left_under_way_can_still_be_closed_and_was_held_the_day_it_began(
    under_way_meeting: Meeting, brought: Brought, manager: Person
) -> None:
    held_claims.give_up(meeting=under_way_meeting, now=LATER)
    meetings.close(meeting=under_way_meeting, actor=manager, now=LATER)
    assert (under_way_meeting.state, under_way_meeting.held_on) == ("closed", dt.date(2026, 12, 3))
    assert undecided_at(coming_of(under_way_meeting.line)) == titles_of(brought)


def test_the_next_meeting_is_not_made_twice(line: Line, meeting: Meeting, now: dt.datetime) -> None:
    assert coming_meetings.ensure(line=line, now=now) == meeting
    assert coming_meetings.ensure(line=line, now=now) == meeting
    assert line.meetings.count() == 1


def test_two_can_have_met_on_the_first_day_of_their_line(line: Line, manager: Person) -> None:
    made = held_claims.we_met(
        line=line,
        day=line.starts_on,
        meeting=None,
        discussed=[],
        actor=manager,
        now=MADE,
        today=line.starts_on,
    )
    assert made.held_on == line.starts_on
