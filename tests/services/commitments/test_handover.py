"""A commitment handed over: offered by its owner, taken by the other side."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Meeting, Notice, Proposal
from oneonone.services.commitments import commitments, due_dates, handover
from oneonone.services.meetings import held_claims
from oneonone.services.refusals import NotAllowed, NotNow
from tests.scene import AFTER, DURING, TakenOn

pytestmark = pytest.mark.django_db


def test_it_stays_with_its_owner_until_the_other_side_accepts(
    taken_on: TakenOn, report: Person, manager: Person
) -> None:
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    assert Commitment.objects.get(pk=taken_on.reports.pk).owner == report
    assert Notice.objects.filter(kind="proposal", person=manager, subject=offer.pk).exists()

    taken = handover.accept(proposal=offer, actor=manager, now=AFTER)

    old = Commitment.objects.get(pk=taken_on.reports.pk)
    assert (old.state, old.settled_by, old.settled_at) == ("handed_over", manager, AFTER)
    assert (taken.owner, taken.owner_side, taken.continues) == (manager, "manager", old)
    assert (taken.action, taken.original_date, taken.current_date) == (
        old.action,
        old.original_date,
        old.current_date,
    )
    assert not taken.is_offered
    assert not Notice.objects.filter(kind="proposal", person=manager, cancelled_at__isnull=True).exists()


def test_beside_a_meeting_that_was_given_up_it_is_asked_in_the_digest(
    taken_on: TakenOn, under_way_meeting: Meeting, report: Person
) -> None:
    held_claims.give_up(meeting=under_way_meeting, now=dt.datetime(2026, 12, 10, 9, 0, tzinfo=dt.UTC))
    offer = handover.offer(
        commitment=taken_on.reports, actor=report, now=dt.datetime(2026, 12, 11, 9, 0, tzinfo=dt.UTC)
    )
    assert not Notice.objects.get(kind="proposal", subject=offer.pk).at_once


def test_accepted_twice_it_is_taken_once(taken_on: TakenOn, report: Person, manager: Person) -> None:
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    handover.accept(proposal=offer, actor=manager, now=AFTER)
    with pytest.raises(NotNow):
        handover.accept(proposal=offer, actor=manager, now=AFTER)
    assert Commitment.objects.filter(continues=taken_on.reports).count() == 1


def test_taken_over_with_the_date_it_has_by_then(taken_on: TakenOn, report: Person, manager: Person) -> None:
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    read = Proposal.objects.select_related("line__manager", "line__report", "commitment").get(pk=offer.pk)
    later = dt.date(2027, 2, 11)
    commitment = Commitment.objects.get(pk=taken_on.reports.pk)
    due_dates.change_date(
        commitment=commitment, date=later, version=commitment.version, actor=report, now=DURING
    )
    taken = handover.accept(proposal=read, actor=manager, now=AFTER)
    assert (taken.original_date, taken.current_date) == (taken_on.reports.original_date, later)


def test_declined_or_taken_back_it_stays_where_it_is(
    taken_on: TakenOn, report: Person, manager: Person
) -> None:
    first = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    handover.decline(proposal=first, actor=manager, now=DURING)
    second = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    handover.withdraw(proposal=second, actor=report, now=DURING)
    assert [first.state, second.state] == [Proposal.State.DECLINED, Proposal.State.WITHDRAWN]
    taken_on.reports.refresh_from_db()
    assert (taken_on.reports.state, taken_on.reports.owner) == ("open", report)


def test_only_the_owner_offers_and_only_the_other_side_answers(
    taken_on: TakenOn, report: Person, manager: Person, outsider: Person
) -> None:
    with pytest.raises(NotAllowed):
        handover.offer(commitment=taken_on.reports, actor=manager, now=DURING)
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    for person in (report, outsider):
        with pytest.raises(NotAllowed):
            handover.accept(proposal=offer, actor=person, now=DURING)
    with pytest.raises(NotAllowed):
        handover.withdraw(proposal=offer, actor=manager, now=DURING)


def test_a_second_offer_waits_for_the_answer_to_the_first(taken_on: TakenOn, report: Person) -> None:
    handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    with pytest.raises(NotNow):
        handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    assert Proposal.objects.filter(commitment=taken_on.reports).count() == 1


def test_what_is_only_offered_or_settled_cannot_be_handed_over(taken_on: TakenOn, report: Person) -> None:
    with pytest.raises(NotNow):
        handover.offer(commitment=taken_on.offered, actor=report, now=DURING)
    commitments.done(commitment=taken_on.reports, actor=report, now=DURING)
    with pytest.raises(NotNow):
        handover.offer(commitment=taken_on.reports, actor=report, now=DURING)


def test_an_offer_of_something_done_meanwhile_has_lapsed(
    taken_on: TakenOn, report: Person, manager: Person
) -> None:
    offer = handover.offer(commitment=taken_on.reports, actor=report, now=DURING)
    commitments.done(commitment=taken_on.reports, actor=report, now=DURING)
    with pytest.raises(NotNow):
        handover.accept(proposal=offer, actor=manager, now=AFTER)
    assert not Commitment.objects.filter(continues=taken_on.reports).exists()
