"""Owners are reminded of a commitment: on the day they named, and one working day before its date."""

from __future__ import annotations

import datetime as dt

import pytest

from accounts.models import Person
from oneonone.models import Commitment, Notice
from oneonone.services.commitments import commitment_jobs, commitments, due_dates
from oneonone.services.commitments.commitment_jobs import CUE, REMIND
from tests.scene import AFTER, DURING, TakenOn

pytestmark = pytest.mark.django_db
DAY_BEFORE = dt.datetime(2026, 12, 16, tzinfo=dt.UTC)


def reminded() -> list[tuple[Person, str]]:
    return [
        (notice.person, notice.occurrence)
        for notice in Notice.objects.filter(kind="commitment").order_by("owed_at", "occurrence")
    ]


def test_the_owner_alone_is_reminded_once_on_the_working_day_before(
    taken_on: TakenOn, manager: Person
) -> None:
    assert not REMIND.do_one(DAY_BEFORE - dt.timedelta(seconds=1))
    assert REMIND.do_one(DAY_BEFORE)
    assert reminded() == [(manager, "date 2026-12-17")]
    assert not REMIND.do_one(DAY_BEFORE)
    assert commitment_jobs.to_remind(DAY_BEFORE).count() == 0


def test_a_new_date_is_reminded_of_anew(taken_on: TakenOn, manager: Person) -> None:
    REMIND.do_one(DAY_BEFORE)
    due_dates.change_date(
        commitment=taken_on.managers,
        date=dt.date(2026, 12, 31),
        version=Commitment.objects.get(pk=taken_on.managers.pk).version,
        actor=manager,
        now=DAY_BEFORE,
    )
    assert not REMIND.do_one(dt.datetime(2026, 12, 29, 23, 59, tzinfo=dt.UTC))
    assert REMIND.do_one(dt.datetime(2026, 12, 30, tzinfo=dt.UTC))
    assert reminded() == [(manager, "date 2026-12-17"), (manager, "date 2026-12-31")]


def test_what_is_done_or_not_confirmed_is_not_reminded_of(
    taken_on: TakenOn, manager: Person, report: Person
) -> None:
    commitments.done(commitment=taken_on.managers, actor=manager, now=AFTER)
    commitments.done(commitment=taken_on.reports, actor=report, now=AFTER)
    assert not REMIND.do_one(dt.datetime(2027, 3, 1, tzinfo=dt.UTC))
    commitments.confirm(commitment=taken_on.offered, actor=report, now=AFTER)
    assert REMIND.do_one(dt.datetime(2027, 3, 1, tzinfo=dt.UTC))
    assert reminded() == [(report, "date 2027-02-01")]


def test_the_day_that_the_owner_named_comes_once_and_to_nobody_else(
    taken_on: TakenOn, report: Person
) -> None:
    due_dates.set_cue(commitment=taken_on.reports, on=dt.date(2026, 12, 9), actor=report, now=DURING)
    assert not CUE.do_one(dt.datetime(2026, 12, 8, 23, 59, tzinfo=dt.UTC))
    assert CUE.do_one(dt.datetime(2026, 12, 9, tzinfo=dt.UTC))
    assert reminded() == [(report, "cue 2026-12-09")]
    assert not CUE.do_one(dt.datetime(2026, 12, 9, tzinfo=dt.UTC))


def test_a_reminder_taken_by_another_process_in_between_is_not_owed_twice(
    taken_on: TakenOn, manager: Person
) -> None:
    """Two have read the same row; the second finds that it is no longer as it was read."""
    row = commitment_jobs.to_remind(DAY_BEFORE).get()
    commitment_jobs.remind(row, DAY_BEFORE)
    Notice.objects.all().delete()
    commitment_jobs.remind(row, DAY_BEFORE)
    assert reminded() == []


def test_the_day_that_a_former_owner_named_is_told_to_nobody(
    taken_on: TakenOn, report: Person, manager: Person
) -> None:
    """Such as of a commitment that somebody else owns since."""
    due_dates.set_cue(commitment=taken_on.reports, on=dt.date(2026, 12, 9), actor=report, now=DURING)
    Commitment.objects.filter(pk=taken_on.reports.pk).update(owner=manager)
    assert CUE.do_one(dt.datetime(2026, 12, 9, tzinfo=dt.UTC))
    assert reminded() == []
    assert not CUE.do_one(dt.datetime(2026, 12, 9, tzinfo=dt.UTC))
