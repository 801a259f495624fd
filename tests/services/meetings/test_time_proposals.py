"""Another time, an earlier one, an extra meeting: proposed by either side, answered by the other."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from accounts.models import Person
from oneonone.models import Line, Meeting, Move, Notice, Proposal, Side
from oneonone.selectors.dates import time_proposals as selector
from oneonone.services.lines import lines
from oneonone.services.meetings import meetings, time_proposals
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange, PastDate, PastNextMeeting
from tests.cast import queries
from tests.scene import MADE, QUARTERLY, coming_of

UTC = dt.UTC
MONDAY, EARLIER = dt.date(2026, 12, 7), dt.date(2026, 12, 1)
TEN = dt.time(10)
Kind, State = Notice.Kind, Proposal.State


def ask(meeting: Meeting, actor: Person, now: dt.datetime, day: dt.date = MONDAY) -> Proposal:
    return time_proposals.propose(meeting=meeting, day=day, time=TEN, actor=actor, now=now)


def extra(line: Line, actor: Person, now: dt.datetime, **more: object) -> Proposal:
    values = {"day": MONDAY, "time": TEN, "minutes": 30} | more
    return time_proposals.propose_extra(line=line, actor=actor, now=now, **values)  # type: ignore[arg-type]


def run_lapse(now: dt.datetime) -> int:
    return sum(1 for _done in time_proposals.LAPSE.each(now, most=50))


@pytest.fixture
def sides(manager: Person, report: Person) -> dict[str, Person]:
    return {"manager": manager, "report": report}


@pytest.mark.parametrize(("by", "to"), [("manager", "report"), ("report", "manager")])
def test_either_side_proposes_and_the_others_yes_moves_it(
    by: str, to: str, meeting: Meeting, sides: dict[str, Person], now: dt.datetime
) -> None:
    before = meeting.starts_at
    proposal = ask(meeting, sides[by], now)
    meeting.refresh_from_db()
    assert meeting.starts_at == before
    owed = Notice.objects.get(kind=Kind.PROPOSAL)
    assert (owed.person, owed.subject, owed.meeting) == (sides[to], proposal.pk, meeting)
    time_proposals.answer(proposal=proposal, accept=True, actor=sides[to], now=now)
    meeting.refresh_from_db()
    assert meeting.starts_at == dt.datetime(2026, 12, 7, 10, 0, tzinfo=UTC)
    assert Move.objects.get().by == sides[to]
    assert Proposal.objects.get().state == State.ACCEPTED
    assert [one.person for one in Notice.objects.filter(kind=Kind.MOVED)] == [sides[by]]
    owed.refresh_from_db()
    assert owed.cancelled_at == now


def test_an_earlier_one_can_be_proposed(
    meeting: Meeting, report: Person, manager: Person, now: dt.datetime
) -> None:
    proposal = ask(meeting, report, now, day=EARLIER)
    assert proposal.lapses_at == dt.datetime(2026, 12, 1, 10, 0, tzinfo=UTC)
    time_proposals.answer(proposal=proposal, accept=True, actor=manager, now=now)
    meeting.refresh_from_db()
    assert meeting.starts_at.date() == EARLIER


def test_a_no_leaves_it_and_tells_who_asked_once(
    meeting: Meeting, report: Person, manager: Person, now: dt.datetime
) -> None:
    before = meeting.starts_at
    proposal = ask(meeting, report, now)
    time_proposals.answer(proposal=proposal, accept=False, actor=manager, now=now)
    meeting.refresh_from_db()
    assert (meeting.starts_at, Proposal.objects.get().state) == (before, State.DECLINED)
    assert [one.person for one in Notice.objects.filter(kind=Kind.DECLINED)] == [report]
    with pytest.raises(NotNow):
        time_proposals.answer(proposal=proposal, accept=True, actor=manager, now=now)


def test_an_extra_one_is_planned_by_the_yes_and_told_as_extra(
    line: Line, report: Person, manager: Person, now: dt.datetime
) -> None:
    proposal = extra(line, report, now)
    assert line.meetings.filter(is_extra=True).count() == 0
    made = time_proposals.answer(proposal=proposal, accept=True, actor=manager, now=now)
    assert made is not None
    assert (made.is_extra, made.minutes) == (True, 30)
    assert made.starts_at == dt.datetime(2026, 12, 7, 10, 0, tzinfo=UTC)
    assert [(one.kind, one.person) for one in Notice.objects.filter(meeting=made)] == [(Kind.EXTRA, report)]


def test_nobody_answers_their_own_or_takes_back_anothers(
    meeting: Meeting, report: Person, manager: Person, outsider: Person, now: dt.datetime
) -> None:
    proposal = ask(meeting, report, now)
    for actor in (report, outsider):
        with pytest.raises(NotAllowed):
            time_proposals.answer(proposal=proposal, accept=True, actor=actor, now=now)
    with pytest.raises(NotAllowed):
        time_proposals.withdraw(proposal=proposal, actor=manager, now=now)
    time_proposals.withdraw(proposal=proposal, actor=report, now=now)
    assert Proposal.objects.get().state == State.WITHDRAWN
    assert Notice.objects.get(kind=Kind.PROPOSAL).cancelled_at == now


def test_a_second_one_takes_the_place_of_the_first_and_the_other_sides_answers_it(
    meeting: Meeting, report: Person, manager: Person, now: dt.datetime
) -> None:
    ask(meeting, report, now)
    ask(meeting, report, now, day=EARLIER)
    ask(meeting, manager, now, day=dt.date(2026, 12, 4))
    states = list(Proposal.objects.order_by("at", "lapses_at").values_list("by__name", "state"))
    assert sorted(states) == [
        ("Ines Okafor", State.OPEN),
        ("Tomas Lindqvist", State.DECLINED),
        ("Tomas Lindqvist", State.WITHDRAWN),
    ]
    waiting = Notice.objects.filter(kind=Kind.PROPOSAL, cancelled_at__isnull=True)
    assert [one.person for one in waiting] == [report]


def test_the_database_keeps_two_from_waiting_at_one_meeting(
    meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    first = ask(meeting, report, now)
    first.pk = uuid4()
    with pytest.raises(IntegrityError), transaction.atomic():
        first.save(force_insert=True)


@pytest.mark.parametrize(
    ("day", "refusal"),
    [
        (dt.date(2026, 11, 24), PastDate),
        (dt.date(2026, 12, 3), OutOfRange),
        (dt.date(2027, 3, 4), PastNextMeeting),
    ],
)
def test_what_moving_refuses_is_refused_when_it_is_proposed(
    day: dt.date, refusal: type[Exception], meeting: Meeting, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(refusal):
        ask(meeting, report, now, day=day)
    assert Proposal.objects.count() == 0


@pytest.mark.parametrize(
    ("more", "refusal"), [({"minutes": 9}, OutOfRange), ({"day": dt.date(2026, 11, 24)}, PastDate)]
)
def test_an_impossible_extra_one_is_refused(
    more: dict[str, object], refusal: type[Exception], line: Line, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(refusal):
        extra(line, report, now, **more)


def test_the_same_form_sent_twice_proposes_once(line: Line, report: Person, now: dt.datetime) -> None:
    key = uuid4()
    assert extra(line, report, now, client_key=key) == extra(line, report, now, client_key=key)
    assert Proposal.objects.count() == 1


def test_stale_ones_lapse_by_themselves_once_and_cannot_be_accepted(
    meeting: Meeting, line: Line, report: Person, manager: Person, now: dt.datetime
) -> None:
    moved, passed = ask(meeting, report, now), extra(line, report, now)
    meetings.move(
        meeting=meeting, starts_at=dt.datetime(2026, 12, 4, 9, 0, tzinfo=UTC), actor=manager, now=now
    )
    later = dt.datetime(2026, 12, 7, 10, 0, tzinfo=UTC)
    assert [one.id for one in selector.waiting(manager, now=now)] == [passed.pk]
    assert selector.waiting(manager, now=later) == ()
    for proposal, at in ((moved, now), (passed, later)):
        with pytest.raises(NotNow):
            time_proposals.answer(proposal=proposal, accept=True, actor=manager, now=at)
    assert (run_lapse(now), run_lapse(now)) == (1, 0)
    assert (run_lapse(later), run_lapse(later)) == (1, 0)
    assert set(Proposal.objects.values_list("state", flat=True)) == {State.LAPSED}
    assert Notice.objects.filter(kind=Kind.PROPOSAL, cancelled_at__isnull=True).count() == 0


@pytest.mark.parametrize("act", ["call off", "start"])
def test_one_of_a_meeting_that_is_no_longer_ahead_lapses(
    act: str, meeting: Meeting, report: Person, manager: Person, now: dt.datetime
) -> None:
    ask(meeting, report, now)
    if act == "start":
        meetings.start(meeting=meeting, actor=manager, now=now)
    else:
        meetings.call_off(meeting=meeting, actor=manager, now=now)
    assert run_lapse(now) == 1


def test_somebody_who_has_not_joined_is_not_asked(manager: Person, now: dt.datetime) -> None:
    asked = lines.Invited(name="Jon Sedge", email="jon.sedge@example.org", side=Side.REPORT)
    made = lines.create(
        actor=manager, now=MADE, today=MADE.date(), terms=QUARTERLY, manager=manager, invited=asked
    )
    with pytest.raises(NotNow) as refused:
        ask(coming_of(made.line), manager, now)
    assert "has not joined yet" in str(refused.value)


def test_an_ended_line_answers_nothing(
    meeting: Meeting, line: Line, report: Person, manager: Person, administrator: Person, now: dt.datetime
) -> None:
    proposal = ask(meeting, report, now)
    lines.end(line=line, actor=administrator, now=now, today=now.date())
    proposal = Proposal.objects.select_related("line").get(pk=proposal.pk)
    assert proposal.state == State.LAPSED
    with pytest.raises(NotNow):
        time_proposals.answer(proposal=proposal, accept=True, actor=manager, now=now)


def test_what_waits_is_read_in_one_query(
    meeting: Meeting, line: Line, report: Person, manager: Person, now: dt.datetime
) -> None:
    ask(meeting, report, now)
    extra(line, manager, now)
    with queries() as made:
        found = selector.waiting(manager, now=now)
    assert [one.by_you for one in found] == [False, True]
    assert len(made) == 1
