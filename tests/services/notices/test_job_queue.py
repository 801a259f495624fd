"""One due row at a time; a row that fails is pushed forward and starves no other."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable, Sequence
from typing import Any

import pytest
from django.db import OperationalError
from django.db.models import QuerySet

from accounts.models import Person
from oneonone.models import Deferral, JobHealth, Line
from oneonone.services.notices import job_queue
from oneonone.services.notices.job_queue import Job
from oneonone.services.refusals import NotNow
from tests.scene import make_line

pytestmark = pytest.mark.django_db


@pytest.fixture
def two_lines(manager: Person, report: Person, peer: Person) -> tuple[Line, Line]:
    return make_line(manager, report), make_line(
        manager, peer, now=dt.datetime(2026, 9, 8, 9, 0, tzinfo=dt.UTC)
    )


def unconfirmed(now: dt.datetime) -> QuerySet[Line]:
    return Line.objects.filter(tree_confirmed_at__isnull=True).order_by("created_at")


def job(act: Callable[[Line, dt.datetime], object]) -> Job[Line]:
    return Job("confirm lines", unconfirmed, act)


def confirm(line: Line, now: dt.datetime) -> None:
    Line.objects.filter(pk=line.pk).update(tree_confirmed_at=now)


def test_it_takes_one_row_a_time_until_none_is_due(two_lines: tuple[Line, Line], now: dt.datetime) -> None:
    assert [job(confirm).do_one(now) for _time in range(3)] == [True, True, False]


def test_a_row_that_fails_changes_nothing_waits_and_lets_the_others_go_on(
    two_lines: tuple[Line, Line], now: dt.datetime, caplog: pytest.LogCaptureFixture
) -> None:
    poison, sound = two_lines

    def act(line: Line, now: dt.datetime) -> None:
        confirm(line, now)
        if line.pk == poison.pk:
            raise ZeroDivisionError

    with caplog.at_level(logging.CRITICAL):
        assert [job(act).do_one(now) for _time in range(3)] == [True, True, False]
    assert list(unconfirmed(now)) == [poison]
    assert sound.pk not in Deferral.objects.values_list("subject", flat=True)
    assert JobHealth.objects.get(job="confirm lines").failures == 1
    assert job(confirm).do_one(now + dt.timedelta(minutes=1))


def test_each_failure_doubles_the_wait_up_to_six_hours(line: Line, now: dt.datetime) -> None:
    waits = []
    for _time in range(11):
        pushed = job_queue.push_forward(
            job="confirm lines", subject=line.pk, now=now, error="ZeroDivisionError"
        )
        assert pushed.until is not None
        waits.append(int((pushed.until - now).total_seconds() // 60))
    assert waits == [1, 2, 4, 8, 16, 32, 64, 128, 256, 360, 360]


def test_nothing_to_do_yet_is_no_failure_and_is_looked_at_in_an_hour(
    two_lines: tuple[Line, Line], now: dt.datetime
) -> None:
    waiting = job(lambda line, now: False)
    assert [waiting.do_one(now) for _time in range(3)] == [True, True, False]
    assert not JobHealth.objects.exists()
    assert waiting.do_one(now + dt.timedelta(hours=1))


def test_a_refusal_means_that_somebody_was_first(line: Line, now: dt.datetime) -> None:
    def refuse(line: Line, now: dt.datetime) -> None:
        raise NotNow

    Line.objects.update(tree_confirmed_at=None)
    assert [job(refuse).do_one(now) for _time in range(2)] == [True, False]
    assert not JobHealth.objects.exists()


def test_a_database_that_cannot_be_reached_is_no_fault_of_the_row(line: Line, now: dt.datetime) -> None:
    def away(line: Line, now: dt.datetime) -> None:
        raise OperationalError

    Line.objects.update(tree_confirmed_at=None)
    with pytest.raises(OperationalError):
        job(away).do_one(now)
    assert not Deferral.objects.exists()


def test_a_row_that_fails_too_often_is_left_until_somebody_says_so(line: Line, now: dt.datetime) -> None:
    def fail(line: Line, now: dt.datetime) -> None:
        raise ZeroDivisionError

    Line.objects.update(tree_confirmed_at=None)
    logging.disable(logging.CRITICAL)
    try:
        at = now
        while (deferral := Deferral.objects.filter(until__isnull=False).first()) or at == now:
            at = deferral.until if deferral and deferral.until else at + dt.timedelta(seconds=1)
            assert job(fail).do_one(at)
    finally:
        logging.disable(logging.NOTSET)
    given_up = Deferral.objects.get()
    assert (given_up.attempts, given_up.error) == (job_queue.MOST_ATTEMPTS, "ZeroDivisionError")
    assert not job(confirm).do_one(at + dt.timedelta(days=30))
    job_queue.try_again(deferral=given_up)
    assert job(confirm).do_one(at)


def in_batches(act: Callable[[Line, dt.datetime], object]) -> Job[Line]:
    def all_at_once(lines: Sequence[Line], now: dt.datetime) -> None:
        for line in lines:
            act(line, now)

    return Job("confirm lines", unconfirmed, act, all_at_once)


def test_a_batch_is_one_transaction(
    two_lines: tuple[Line, Line], now: dt.datetime, django_assert_num_queries: Any
) -> None:
    # The look, a savepoint, two updates, and the end of the savepoint.
    with django_assert_num_queries(5):
        assert len(list(in_batches(confirm).each(now, most=10))) == 2
    assert not unconfirmed(now).exists()


def test_a_batch_that_fails_is_done_row_by_row_and_leaves_the_poison_behind(
    two_lines: tuple[Line, Line], now: dt.datetime, caplog: pytest.LogCaptureFixture
) -> None:
    poison, sound = two_lines

    def act(line: Line, now: dt.datetime) -> None:
        confirm(line, now)
        if line.pk == poison.pk:
            raise ZeroDivisionError

    with caplog.at_level(logging.CRITICAL):
        assert len(list(in_batches(act).each(now, most=10))) == 2
    sound.refresh_from_db()
    assert (list(unconfirmed(now)), sound.tree_confirmed_at) == ([poison], now)
    assert Deferral.objects.get().subject == poison.pk
