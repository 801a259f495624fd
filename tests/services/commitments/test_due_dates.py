"""The dates of a commitment: another one, whether it will be made, and the day to begin."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Line, Revision
from oneonone.models.followthrough import CommitmentCue
from oneonone.services.commitments import due_dates
from oneonone.services.refusals import NotAllowed, OutOfRange, PastDate, Stale
from tests.scene import IN_A_WEEK, take_on

pytestmark = pytest.mark.django_db


def test_a_new_date_leaves_the_original_one_and_keeps_each_change(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    for days in (7, 14):
        due_dates.change_date(
            commitment=commitment,
            date=IN_A_WEEK + dt.timedelta(days=days),
            version=commitment.version,
            reason="The crane is out of service",
            actor=manager,
            now=now,
        )
    assert commitment.original_date == IN_A_WEEK
    assert commitment.current_date == dt.date(2026, 12, 16)
    changes = Revision.objects.filter(commitment=commitment).order_by("to_date")
    assert [(change.from_date.day, change.to_date.day) for change in changes] == [(2, 9), (9, 16)]
    assert {change.reason for change in changes} == {"The crane is out of service"}


def test_a_date_changed_meanwhile_is_shown_and_not_overwritten(
    line: Line, manager: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    read = commitment.version
    due_dates.change_date(
        commitment=commitment, date=dt.date(2026, 12, 9), version=read, actor=manager, now=now
    )
    with pytest.raises(Stale) as stale:
        due_dates.change_date(
            commitment=commitment, date=dt.date(2026, 12, 20), version=read, actor=manager, now=now
        )
    assert stale.value.theirs == {"date": "2026-12-09"}
    assert stale.value.version == commitment.version
    assert Revision.objects.count() == 1


@pytest.mark.parametrize(("day", "refusal"), [(IN_A_WEEK, OutOfRange), (dt.date(2026, 11, 24), PastDate)])
def test_the_present_date_and_one_in_the_past_are_no_new_date(
    line: Line, manager: Person, now: dt.datetime, day: dt.date, refusal: type[Exception]
) -> None:
    commitment = take_on(line, manager, now)
    with pytest.raises(refusal):
        due_dates.change_date(
            commitment=commitment, date=day, version=commitment.version, actor=manager, now=now
        )


def test_a_forecast_is_one_of_two_words(line: Line, manager: Person, now: dt.datetime) -> None:
    commitment = take_on(line, manager, now)
    due_dates.forecast(commitment=commitment, value="may_slip", actor=manager, now=now)
    assert commitment.forecast == Commitment.Forecast.MAY_SLIP
    with pytest.raises(OutOfRange):
        due_dates.forecast(commitment=commitment, value="perhaps", actor=manager, now=now)


def test_a_cue_is_the_owners_and_may_be_taken_back(
    line: Line, manager: Person, report: Person, now: dt.datetime
) -> None:
    commitment = take_on(line, manager, now)
    with pytest.raises(NotAllowed):
        due_dates.set_cue(commitment=commitment, on=IN_A_WEEK, actor=report, now=now)
    with pytest.raises(PastDate):
        due_dates.set_cue(commitment=commitment, on=dt.date(2026, 11, 24), actor=manager, now=now)
    due_dates.set_cue(commitment=commitment, on=dt.date(2026, 11, 30), actor=manager, now=now)
    cue = CommitmentCue.objects.get()
    assert (cue.on, cue.remind_at) == (dt.date(2026, 11, 30), dt.datetime(2026, 11, 30, tzinfo=dt.UTC))
    due_dates.set_cue(commitment=commitment, on=None, actor=manager, now=now)
    assert not CommitmentCue.objects.exists()
