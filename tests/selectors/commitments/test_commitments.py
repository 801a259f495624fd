"""A reader's own commitments on all lines."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Line
from oneonone.selectors.commitments import commitments as own
from oneonone.services.commitments import carrying, commitments, due_dates, handover
from oneonone.services.lines import lines
from oneonone.services.meetings import held_claims
from oneonone.services.refusals import NotAllowed, NotNow
from tests.cast import queries
from tests.scene import AFTER, DURING, MADE, TakenOn, invite_report, make_line, take_on

pytestmark = pytest.mark.django_db


def test_they_are_the_readers_own_by_date_and_say_what_is_only_offered(
    taken_on: TakenOn, report: Person, manager: Person
) -> None:
    views = own.mine(report, now=AFTER)
    assert [view.id for view in views] == [taken_on.reports.pk, taken_on.offered.pk]
    assert [view.is_offered for view in views] == [False, True]
    assert [view.is_authored for view in views] == [True, False]
    assert {view.other for view in views} == {"Ines Okafor"}
    assert {view.owner for view in views} == {"Tomas Lindqvist"}
    assert [view.id for view in own.mine(manager, now=AFTER)] == [taken_on.managers.pk]


def test_a_changed_date_an_offer_to_hand_over_and_the_owners_day_are_told(
    taken_on: TakenOn, report: Person
) -> None:
    commitment = taken_on.reports
    due_dates.change_date(
        commitment=commitment,
        date=dt.date(2027, 1, 21),
        version=commitment.version,
        actor=report,
        now=AFTER,
    )
    due_dates.set_cue(commitment=commitment, on=dt.date(2027, 1, 11), actor=report, now=AFTER)
    offer = handover.offer(commitment=commitment, actor=report, now=AFTER)
    view = own.mine(report, now=AFTER)[0]
    assert (view.original_date, view.current_date, view.times_changed) == (
        dt.date(2027, 1, 14),
        dt.date(2027, 1, 21),
        1,
    )
    assert (view.cue_on, view.hand_over) == (dt.date(2027, 1, 11), offer.pk)


def test_past_is_told_by_the_readers_calendar(taken_on: TakenOn, manager: Person) -> None:
    """At 12:00 UTC on 17 December it is the 18th on Kiritimati."""
    noon = dt.datetime(2026, 12, 17, 12, 0, tzinfo=dt.UTC)
    assert not own.mine(manager, now=noon)[0].is_past
    manager.zone = "Pacific/Kiritimati"
    assert own.mine(manager, now=noon)[0].is_past


def test_they_stay_with_the_owner_when_the_line_has_ended(
    taken_on: TakenOn, manager: Person, administrator: Person
) -> None:
    lines.end(line=taken_on.managers.line, actor=administrator, now=AFTER, today=AFTER.date())
    view = own.mine(manager, now=AFTER)[0]
    assert (view.action, view.line_is_open) == ("Ask the harbour for a crane slot", False)


def test_the_number_of_queries_is_the_same_for_one_and_for_many(
    line: Line, manager: Person, peer: Person, now: dt.datetime
) -> None:
    def promise(on: Line, times: int) -> None:
        for number in range(times):
            commitments.take_on(
                line=on,
                owner_side="manager",
                action=f"Check pontoon {number}",
                how_known="",
                date=DURING.date(),
                actor=manager,
                now=now,
            )

    promise(line, 1)
    with queries() as few:
        own.mine(manager, now=now)
    promise(make_line(manager, peer), 5)
    with queries() as many:
        assert len(own.mine(manager, now=now)) == 6
    assert len(many) == len(few) == 1


def test_what_waits_for_a_side_that_has_not_joined_is_not_the_other_sides(
    manager: Person, now: dt.datetime
) -> None:
    """Typed for the invited report it has no owner yet; the manager's own beside it is the manager's."""
    line = invite_report(manager).line
    for side in ("manager", "report"):
        commitments.take_on(
            line=line,
            owner_side=side,
            action=f"For the {side}",
            how_known="",
            date=dt.date(2026, 12, 17),
            actor=manager,
            now=now,
        )
    ids = line.commitments.values_list("pk", flat=True)
    views = own.of_line(manager, line, ids, now=now)
    assert {(view.action, view.is_mine, view.owner) for view in views} == {
        ("For the manager", True, "Ines Okafor"),
        ("For the report", False, "Noor Haldane"),
    }
    assert [view.action for view in own.offered(manager, line, now=now)] == ["For the report"]


def carried_twice(line: Line, owner: Person) -> Commitment:
    """A commitment that two held meetings have left undone after its date."""
    made = take_on(line, owner, MADE, date=dt.date(2026, 10, 1))
    for day in (dt.date(2026, 11, 5), dt.date(2026, 11, 12)):
        at = dt.datetime.combine(day, dt.time(9), dt.UTC)
        met = held_claims.we_met(
            line=line, day=day, meeting=None, discussed=[], actor=owner, now=at, today=day
        )
        carrying.carry(meeting=met, now=at)
    return made


def test_the_choice_after_a_second_carry_is_answered_by_keeping_it_until_it_is_carried_again(
    line: Line, report: Person, now: dt.datetime
) -> None:
    made = carried_twice(line, report)
    (view,) = own.mine(report, now=now)
    assert (view.times_carried, view.asks_choice, view.is_kept) == (2, True, False)
    due_dates.keep(commitment=made, actor=report, now=now)
    (view,) = own.mine(report, now=now)
    assert (view.asks_choice, view.is_kept) == (False, True)
    later = now + dt.timedelta(days=1)
    met = held_claims.we_met(
        line=line, day=later.date(), meeting=None, discussed=[], actor=report, now=later, today=later.date()
    )
    carrying.carry(meeting=met, now=later)
    (view,) = own.mine(report, now=later)
    assert (view.times_carried, view.asks_choice, view.is_kept) == (3, True, False)


def test_a_new_date_just_given_answers_the_choice_as_well(
    line: Line, report: Person, now: dt.datetime
) -> None:
    made = carried_twice(line, report)
    due_dates.change_date(
        commitment=made, date=dt.date(2026, 12, 20), version=made.version, actor=report, now=now
    )
    assert not own.mine(report, now=now)[0].asks_choice


def test_an_offer_to_hand_it_over_answers_the_choice_until_it_is_declined(
    line: Line, report: Person, manager: Person, now: dt.datetime
) -> None:
    made = carried_twice(line, report)
    offer = handover.offer(commitment=made, actor=report, now=now)
    assert not own.mine(report, now=now)[0].asks_choice
    handover.decline(proposal=offer, actor=manager, now=now)
    assert own.mine(report, now=now)[0].asks_choice


def test_only_its_owner_keeps_it_and_only_while_it_is_open(
    line: Line, report: Person, manager: Person, now: dt.datetime
) -> None:
    made = carried_twice(line, report)
    with pytest.raises(NotAllowed):
        due_dates.keep(commitment=made, actor=manager, now=now)
    commitments.done(commitment=made, actor=report, now=now)
    with pytest.raises(NotNow):
        due_dates.keep(commitment=made, actor=report, now=now)
