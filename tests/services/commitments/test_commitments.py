"""Commitments: who may say what about them, and what stays as it was."""

from __future__ import annotations

import datetime as dt
from uuid import uuid4

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Line, Meeting, Notice, Proposal, RecordLine, Side
from oneonone.models.followthrough import CommitmentCue
from oneonone.services.commitments import commitments, due_dates, handover
from oneonone.services.lines import lines
from oneonone.services.refusals import NotAllowed, NotNow, OutOfRange, PastDate, TooLong
from tests.scene import AFTER, DURING, TakenOn, make_line, take_on

pytestmark = pytest.mark.django_db


def owed(person: Person, kind: str) -> list[Notice]:
    return list(Notice.objects.filter(person=person, kind=kind, cancelled_at__isnull=True))


def test_typed_for_oneself_it_counts_at_once(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    assert commitment.owner == manager
    assert not commitment.is_offered
    assert not owed(report, "offered")


def test_typed_for_the_other_side_it_is_offered_until_they_confirm(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now, owner_side=Side.REPORT)
    assert commitment.is_offered
    assert [notice.subject for notice in owed(report, "offered")] == [commitment.pk]
    assert not owed(manager, "offered")
    confirmed = commitments.confirm(commitment=commitment, actor=report, now=AFTER)
    assert not confirmed.is_offered
    assert confirmed.confirmed_at == AFTER
    assert not owed(report, "offered")


def test_only_the_owner_confirms_declines_or_says_how_it_went(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now, owner_side=Side.REPORT)
    for act in (commitments.confirm, commitments.decline, commitments.done, commitments.drop):
        with pytest.raises(NotAllowed):
            act(commitment=commitment, actor=manager, now=now)
    commitment.refresh_from_db()
    assert commitment.state == Commitment.State.OPEN


def test_whoever_typed_it_takes_the_offer_back_but_not_once_it_is_confirmed(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    offered = take_on(line, manager, now, owner_side=Side.REPORT)
    commitments.withdraw(commitment=offered, actor=manager, now=now)
    assert (offered.state, offered.settled_cause) == ("dropped", "withdrawn")
    confirmed = take_on(line, manager, now, owner_side=Side.REPORT)
    commitments.confirm(commitment=confirmed, actor=report, now=now)
    with pytest.raises(NotNow):
        commitments.withdraw(commitment=confirmed, actor=manager, now=now)
    with pytest.raises(NotNow):
        commitments.decline(commitment=confirmed, actor=report, now=now)


@pytest.mark.parametrize(
    ("changes", "field", "refusal"),
    [
        ({"action": "  "}, "action", TooLong),
        ({"action": "x" * 301}, "action", TooLong),
        ({"action": "two\nlines"}, "action", TooLong),
        ({"owner_side": "lead"}, "owner_side", OutOfRange),
        ({"how_known": "x" * 501}, "how_known", TooLong),
        ({"date": dt.date(2026, 11, 24)}, "date", PastDate),
        ({"date": dt.date(2206, 12, 2)}, "date", OutOfRange),
    ],
)
def test_a_refusal_names_its_field_and_nothing_is_kept(
    line: Line,
    manager: Person,
    now: dt.datetime,
    changes: dict[str, object],
    field: str,
    refusal: type[Exception],
) -> None:
    with pytest.raises(refusal) as refused:
        take_on(line, manager, now, **changes)
    assert refused.value.field == field  # type: ignore[attr-defined]
    assert refused.value.accepted  # type: ignore[attr-defined]
    assert not Commitment.objects.exists()


def test_today_is_not_in_the_past_and_is_told_by_the_clocks_of_whoever_types(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    """At 10:00 UTC on 25 November it is the 26th already on Kiritimati, 14 hours ahead."""
    assert take_on(line, manager, now, date=dt.date(2026, 11, 25)).current_date == dt.date(2026, 11, 25)
    manager.zone = "Pacific/Kiritimati"
    with pytest.raises(PastDate):
        take_on(line, manager, now, date=dt.date(2026, 11, 25))


def test_in_a_meeting_it_is_a_line_of_the_record_that_repeats_nothing(
    under_way_meeting: Meeting, manager: Person
) -> None:
    commitment = take_on(
        under_way_meeting.line, manager, DURING, meeting=under_way_meeting, date=dt.date(2026, 12, 10)
    )
    line = RecordLine.objects.get(meeting=under_way_meeting)
    assert (line.kind, line.commitment, line.words) == ("taken_on", commitment, "")


def test_a_meeting_that_has_not_begun_takes_nothing_on(
    meeting: Meeting, manager: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        take_on(meeting.line, manager, now, meeting=meeting)
    assert not Commitment.objects.exists()


def test_a_meeting_of_another_line_is_refused(
    under_way_meeting: Meeting, manager: Person, peer: Person
) -> None:
    other = make_line(manager, peer)
    with pytest.raises(OutOfRange) as refused:
        take_on(other, manager, DURING, meeting=under_way_meeting, date=dt.date(2026, 12, 10))
    assert refused.value.field == "meeting"


def test_sent_twice_with_one_key_it_is_taken_on_once(line: Line, manager: Person, now: dt.datetime) -> None:
    key = uuid4()
    first = take_on(line, manager, now, client_key=key)
    assert take_on(line, manager, now, client_key=key) == first
    assert Commitment.objects.count() == 1


def test_an_outsider_and_an_ended_line_take_nothing_on(
    line: Line, former_line: Line, outsider: Person, report: Person, now: dt.datetime
) -> None:
    with pytest.raises(NotNow):
        take_on(line, outsider, now, owner_side=Side.MANAGER)
    with pytest.raises(NotNow):
        take_on(former_line, report, now)


def test_done_twice_is_done_once_and_then_neither_dropped_nor_moved(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    commitments.done(commitment=commitment, actor=manager, now=now)
    commitments.done(commitment=commitment, actor=manager, now=AFTER)
    assert (commitment.state, commitment.settled_at, commitment.settled_by) == ("done", now, manager)
    with pytest.raises(NotNow):
        commitments.drop(commitment=commitment, actor=manager, now=AFTER)
    with pytest.raises(NotNow):
        due_dates.change_date(
            commitment=commitment,
            date=dt.date(2026, 12, 9),
            version=commitment.version,
            actor=manager,
            now=now,
        )
    with pytest.raises(NotNow):
        due_dates.forecast(commitment=commitment, value="may_slip", actor=manager, now=now)


def test_a_slip_of_the_hand_is_undone_by_whoever_made_it(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    commitments.done(commitment=commitment, actor=manager, now=now)
    commitments.reopen(commitment=commitment, actor=manager, now=now)
    assert (commitment.state, commitment.settled_at, commitment.settled_by) == ("open", None, None)
    declined = take_on(line, manager, now, owner_side=Side.REPORT)
    commitments.decline(commitment=declined, actor=report, now=now)
    with pytest.raises(NotNow):
        commitments.reopen(commitment=declined, actor=report, now=now)


def test_one_that_is_open_again_is_reminded_of_on_the_day_its_owner_named(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    due_dates.set_cue(commitment=commitment, on=dt.date(2026, 11, 30), actor=manager, now=now)
    commitments.done(commitment=commitment, actor=manager, now=now)
    assert CommitmentCue.objects.get().remind_at is None
    commitments.reopen(commitment=commitment, actor=manager, now=now)
    assert CommitmentCue.objects.get().remind_at == dt.datetime(2026, 11, 30, tzinfo=dt.UTC)


def test_a_day_that_has_come_is_not_reminded_of_again(line: Line, manager: Person, now: dt.datetime) -> None:
    commitment = take_on(line, manager, now)
    due_dates.set_cue(commitment=commitment, on=now.date(), actor=manager, now=now)
    commitments.done(commitment=commitment, actor=manager, now=now)
    commitments.reopen(commitment=commitment, actor=manager, now=now)
    assert CommitmentCue.objects.get().remind_at is None


def test_saying_that_an_offered_one_is_done_confirms_it(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now, owner_side=Side.REPORT)
    commitments.done(commitment=commitment, actor=report, now=now)
    assert (commitment.state, commitment.confirmed_at) == ("done", now)


def test_settling_ends_what_was_asked_about_it(taken_on: TakenOn, report: Person, manager: Person) -> None:
    commitment = taken_on.reports
    offer = handover.offer(commitment=commitment, actor=report, now=DURING)
    due_dates.set_cue(commitment=commitment, on=dt.date(2026, 12, 10), actor=report, now=DURING)
    assert owed(manager, "proposal")
    commitments.done(commitment=commitment, actor=report, now=AFTER)
    offer.refresh_from_db()
    assert offer.state == Proposal.State.LAPSED
    assert not owed(manager, "proposal")
    assert CommitmentCue.objects.get(commitment=commitment).remind_at is None


def test_an_owner_still_ends_a_commitment_after_their_line_has_ended(
    taken_on: TakenOn, manager: Person, administrator: Person
) -> None:
    lines.end(line=taken_on.managers.line, actor=administrator, now=AFTER, today=AFTER.date())
    taken_on.managers.refresh_from_db()
    commitments.done(commitment=taken_on.managers, actor=manager, now=AFTER)
    assert taken_on.managers.state == Commitment.State.DONE


def test_what_somebody_else_has_settled_is_not_opened_again_by_its_owner(
    taken_on: TakenOn, report: Person, administrator: Person
) -> None:
    """The slip of a hand is one's own: what ended otherwise, such as by erasing, stays ended."""
    one = taken_on.reports
    Commitment.objects.filter(pk=one.pk).update(
        state="dropped", settled_at=AFTER, settled_by=administrator, settled_cause="left"
    )
    one.refresh_from_db()
    with pytest.raises(NotNow):
        commitments.reopen(commitment=one, actor=report, now=AFTER)
    one.refresh_from_db()
    assert (one.state, one.settled_by) == ("dropped", administrator)
